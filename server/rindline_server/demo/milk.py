"""Milk from the herds, and what else goes into a vat."""

from rindline_schema.events import Discard, Discarded, Input, MilkTests, Receive
from rindline_server.demo.dates import FIRST_DAY, at, date_of
from rindline_server.demo.journal import Journal
from rindline_server.demo.registers import DAIRY, HERDS
from rindline_server.demo.things import Milk

__all__ = ["Ingredients", "Milking"]

_STALE_DAYS = 2


class Milking:
    """The milk tanks: who delivers how much for a make, and what is left over."""

    def __init__(self, journal: Journal) -> None:
        """Start with empty tanks."""
        self._journal = journal
        self._kept: tuple[int, Milk] | None = None

    def for_make(self, day: int, next_day: int | None, wanted_ml: int) -> list[Input]:
        """Receive milk on the morning of a make and give what goes into the vat.

        The largest herd sends milk for every make. The second is collected every other day, so
        that what it sends may do for the next make as well. From the fifth week on the third
        has milk, too.
        """
        third_ml = wanted_ml // 8 if day >= 28 else 0
        second_ml = wanted_ml * 2 // 5
        first_ml = wanted_ml - second_ml - third_ml
        inputs = [self._emptied(self._deliver(HERDS[0], day, 0, first_ml))]
        if third_ml:
            inputs.append(self._emptied(self._deliver(HERDS[2], day, 2, third_ml)))
        if self._kept is not None and self._kept[1].left_ml >= second_ml:
            second = self._kept[1]
            inputs.append(self._drawn(second, second_ml))
            self._throw_away(second, day)
            self._kept = None
            return inputs
        lasts = next_day is not None and next_day - day <= _STALE_DAYS
        spare_ml = second_ml + self._journal.dice.between(30_000, 60_000) if lasts else 0
        second = self._deliver(HERDS[1], day, 1, second_ml + spare_ml)
        inputs.append(self._drawn(second, second_ml))
        self._kept = (day, second) if lasts else None
        return inputs

    def _deliver(self, herd: str, day: int, order: int, volume_ml: int) -> Milk:
        journal, dice = self._journal, self._journal.dice
        moment = at(day, 5, 20 + 15 * order + dice.between(0, 9))
        lot = journal.new_lot(DAIRY, moment, "milk")
        journal.add(
            Receive(
                id=journal.new_id(moment),
                at=moment,
                site=DAIRY,
                product="COW-MILK",
                supplier=herd,
                reference=journal.new_number(f"{herd[:3]}"),
                lot=lot,
                volume_ml=volume_ml,
                room="QM-MILK",
                temperature_c=dice.between(32, 54) / 10,
                tests=MilkTests(
                    inhibitors="negative",
                    plate_count_per_ml=dice.between(9, 60) * 1000,
                    somatic_cells_per_ml=dice.between(140, 330) * 1000,
                ),
            )
        )
        return Milk(lot, volume_ml)

    @staticmethod
    def _drawn(milk: Milk, volume_ml: int) -> Input:
        milk.left_ml -= volume_ml
        return Input(lot=milk.lot, volume_ml=volume_ml)

    def _emptied(self, milk: Milk) -> Input:
        return self._drawn(milk, milk.left_ml)

    def _throw_away(self, milk: Milk, day: int) -> None:
        """Discard what is left in the tank: too little for a vat, too old for another day."""
        moment = at(day, 11)
        self._journal.add(
            Discard(
                id=self._journal.new_id(moment),
                at=moment,
                site=DAIRY,
                lots=[Discarded(lot=milk.lot)],
                reason="left in the tank",
                method="to the whey tank, for pigs",
            )
        )


# What comes in, from whom, grams a delivery, days on which a new lot is opened, shelf life.
_BOUGHT = {
    "STARTER": ("VELMORRA", 4_000, (FIRST_DAY + 3, 25, 53), 180),
    "BLUE-SPORES": ("VELMORRA", 1_500, (FIRST_DAY + 3, 39), 240),
    "RENNET": ("TESSERMARK", 25_000, (FIRST_DAY + 4, 46), 150),
    "SALT": ("HALLOWBRINE", 250_000, (FIRST_DAY + 4, 10, 37, 60), 700),
}


class Ingredients:
    """The ingredient store: which lot of each is open on which day."""

    def __init__(self, journal: Journal) -> None:
        """Receive everything that is bought in these weeks."""
        self._journal = journal
        self._lots: dict[str, list[tuple[int, str]]] = {}
        for product, (supplier, mass_g, days, keeps_days) in _BOUGHT.items():
            self._lots[product] = [
                (day, self._receive(product, supplier, mass_g, day, keeps_days)) for day in days
            ]

    def _receive(self, product: str, supplier: str, mass_g: int, day: int, keeps_days: int) -> str:
        journal = self._journal
        moment = at(day, 10, journal.dice.between(0, 45))
        lot = journal.new_lot(DAIRY, moment, "ingredient")
        journal.add(
            Receive(
                id=journal.new_id(moment),
                at=moment,
                site=DAIRY,
                product=product,
                supplier=supplier,
                reference=journal.new_number(supplier[:3]),
                lot=lot,
                mass_g=mass_g,
                room="QM-DRY",
                best_before=date_of(day + keeps_days),
            )
        )
        return lot

    def open_on(self, product: str, day: int, before: int = 0) -> str:
        """Give the lot that is open on a day; ``before`` = 1 for the one used up before it."""
        lots = [lot for since, lot in self._lots[product] if since < day]
        return lots[-1 - before]

    def for_make(self, day: int, milk_l: int, wheels: int) -> list[Input]:
        """Give what goes into a vat besides milk; salt is 2.8 % on the curd (common practice)."""
        return [
            Input(lot=self.open_on(product, day), mass_g=mass_g)
            for product, mass_g in (
                ("STARTER", milk_l // 20),
                ("BLUE-SPORES", milk_l // 100),
                ("RENNET", milk_l // 4),
                ("SALT", wheels * 308),
            )
        ]
