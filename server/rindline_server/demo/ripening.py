"""From fresh curd to ripe wheels: turned, rubbed, pierced, judged, at the dairy and the store."""

from collections.abc import Sequence
from typing import Literal

from rindline_schema.events import Clean, Iron, Move, Result, Sample, Tend, Weigh
from rindline_server.demo.dates import LAST_DAY, at
from rindline_server.demo.journal import Journal
from rindline_server.demo.makes import HOOPING_DAYS
from rindline_server.demo.registers import DAIRY, STORE
from rindline_server.demo.scale import Scale
from rindline_server.demo.things import Made, Wheel
from rindline_server.demo.transfers import SHIPPING_AGE, tell_transfer

__all__ = ["tell_ripening"]

# Days since hooping (common practice, no source): hoops turned daily for five days; then wheels
# turned every third day for three weeks, then weekly; pierced at five weeks, sometimes again.
_HOOPS_TURNED = range(1, 6)
_UNHOOPED = 6
_TURNED = (*range(9, 28, 3), *range(34, 120, 7))
_BRUSHED = (20, 33, 47)
_PIERCED, _PIERCED_AGAIN = 35, 42
_TO_SECOND_ROOM, _TO_STORE = 14, 21
_FIRST_IRONED, _IRONED = 42, 59
_SAMPLED, _SAMPLE_ANSWERED = 56, 60

Task = Literal["turn", "brush", "rub", "wash", "pierce"]


def tell_ripening(journal: Journal, scale: Scale, made: Sequence[Made]) -> None:
    """Tell what is done with the wheels of each make until the last day, or until they leave."""
    for make in made:
        _Ripening(journal, scale, make).tell()


class _Ripening:
    """One make's way through the rooms; ages are days since hooping."""

    def __init__(self, journal: Journal, scale: Scale, make: Made) -> None:
        self._journal = journal
        self._make = make
        self._kept = make.wheels[len(make.wheels) - scale.kept :]
        self._done = {
            **dict.fromkeys(_HOOPS_TURNED, ()),
            _UNHOOPED: (self._unhoop,),
            _TO_SECOND_ROOM: (self._to_second_room,),
            _TO_STORE: (self._to_store,),
            _PIERCED: (self._pierce, self._weigh_some),
            _PIERCED_AGAIN: (self._pierce_again, self._iron_early),
            _SAMPLED: (self._sample,),
            _IRONED: (self._iron,),
            _SAMPLE_ANSWERED: (self._result,),
        }
        self._reference = ""

    def tell(self) -> None:
        hooped = self._make.day + HOOPING_DAYS
        for age in range(1, LAST_DAY - hooped + 1):
            for step in self._done.get(age, ()):
                step(hooped + age)
            if age in _HOOPS_TURNED or age in _TURNED:
                self._tend(hooped + age, 15, "turn")
            if age in _BRUSHED:
                self._tend(hooped + age, 16, "brush", f"{self._make.site}-BRUSH")

    def _present(self, day: int) -> list[Wheel]:
        return self._kept if day >= self._make.day + SHIPPING_AGE else self._make.wheels

    def _tend(
        self, day: int, hour: int, task: Task, tool: str | None = None, holes: int | None = None
    ) -> None:
        moment = at(day, hour, self._make.number)
        self._journal.add(
            Tend(
                id=self._journal.new_id(moment),
                at=moment,
                site=self._make.site,
                task=task,
                lots=[wheel.lot for wheel in self._present(day)],
                tool=tool,
                holes=holes,
            )
        )

    def _weigh(self, wheels: Sequence[Wheel], day: int, hour: int) -> None:
        for i, wheel in enumerate(wheels):
            moment = at(day, hour, i)
            self._journal.add(
                Weigh(
                    id=self._journal.new_id(moment),
                    at=moment,
                    site=self._make.site,
                    lot=wheel.lot,
                    mass_g=wheel.mass_g(moment),
                    scale=f"{self._make.site}-SCALE",
                )
            )

    def _move(self, day: int, room: str) -> None:
        moment = at(day, 11, self._make.number)
        self._make.room = room
        self._journal.add(
            Move(
                id=self._journal.new_id(moment),
                at=moment,
                site=self._make.site,
                lots=[wheel.lot for wheel in self._make.wheels],
                room=room,
            )
        )

    def _unhoop(self, day: int) -> None:
        self._weigh(self._make.wheels, day, 8)
        self._tend(day, 9, "rub")
        self._move(day, "QM-R1")

    def _to_second_room(self, day: int) -> None:
        if self._make.number % 2:
            self._move(day, "QM-R2")

    def _to_store(self, day: int) -> None:
        """Every second make goes to the store; nobody weighs it for that."""
        if self._make.number % 2:
            return
        room = "QS-NORTH" if self._make.number % 4 else "QS-SOUTH"
        tell_transfer(self._journal, day, self._make.wheels, (DAIRY, STORE), room)
        self._make.site, self._make.room = STORE, room

    def _pierce(self, day: int) -> None:
        needles = f"{self._make.site}-NEEDLES"
        self._tend(day, 10, "pierce", needles, self._journal.dice.between(12, 20) * 10)
        moment = at(day, 11, self._make.number)
        self._journal.add(
            Clean(
                id=self._journal.new_id(moment),
                at=moment,
                site=self._make.site,
                method="boiled for ten minutes",
                tool=needles,
            )
        )

    def _pierce_again(self, day: int) -> None:
        if self._make.number % 3 == 0:
            self._pierce(day)

    def _weigh_some(self, day: int) -> None:
        self._weigh(self._journal.dice.pick(self._make.wheels, 5), day, 13)

    def _judge(self, wheel: Wheel, day: int, minute: int, grade: str) -> None:
        dice = self._journal.dice
        moment = at(day, 14, minute)
        plug_g = dice.between(2, 4)
        wheel.taken_g += plug_g
        self._journal.add(
            Iron(
                id=self._journal.new_id(moment),
                at=moment,
                site=self._make.site,
                lot=wheel.lot,
                tool=f"{self._make.site}-IRON",
                body=dice.between(60, 90),
                texture=dice.between(60, 90),
                blueing=dice.between(30, 55) if grade == "young" else dice.between(60, 95),
                coat=dice.between(65, 95),
                flavour=dice.between(55, 90),
                grade=grade,
                plug_g=plug_g,
            )
        )

    def _iron_early(self, day: int) -> None:
        for i, wheel in enumerate(self._journal.dice.pick(self._make.wheels, 2)):
            self._judge(wheel, day, i * 3, "young")

    def _iron(self, day: int) -> None:
        """Judge a few before they leave; those that are to ripen on are judged all."""
        leaving = self._make.wheels[: len(self._make.wheels) - len(self._kept)]
        for i, wheel in enumerate(self._journal.dice.pick(leaving, 4)):
            self._judge(wheel, day, i * 3, "ready")
        for i, wheel in enumerate(self._kept):
            self._judge(wheel, day, 20 + i * 3, "ripen on")

    def _sample(self, day: int) -> None:
        moment = at(day, 12, self._make.number)
        wheel = self._journal.dice.pick(self._make.wheels, 1)[0]
        wheel.taken_g += 60
        self._reference = self._journal.new_number("LS")
        self._journal.add(
            Sample(
                id=self._journal.new_id(moment),
                at=moment,
                site=self._make.site,
                lot=wheel.lot,
                reference=self._reference,
                mass_g=60,
                purpose="before sale",
                laboratory="ILVERMARSH",
            )
        )

    def _result(self, day: int) -> None:
        moment = at(day, 16, self._make.number)
        self._journal.add(
            Result(
                id=self._journal.new_id(moment),
                at=moment,
                site=self._make.site,
                sample=self._reference,
                test="Listeria monocytogenes",
                verdict="passed",
                method="ISO 11290-1",
                value="not detected",
                unit="in 25 g",
            )
        )
