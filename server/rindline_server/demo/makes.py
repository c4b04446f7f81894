"""The vat and the hoops: from milk to wheels of fresh curd."""

from rindline_schema.events import Clean, Heat, Hoop, Make, NewWheel, VatReading
from rindline_server.demo.dates import at
from rindline_server.demo.journal import Journal
from rindline_server.demo.milk import Ingredients, Milking
from rindline_server.demo.registers import DAIRY
from rindline_server.demo.scale import Scale
from rindline_server.demo.things import Made, Wheel

__all__ = ["HOOPING_DAYS", "tell_makes"]

HOOPING_DAYS = 1
"""The curd drains over night: wheels are hooped the day after the vat was filled."""

# Common practice, no source: about 78 l of milk a wheel.
_ML_A_WHEEL = 78_000
_CURD_G = 11_000

# Hours since the start, °C, pH, titratable acidity in % (common practice, no source).
_CURVE = (
    (0.0, 30.0, 6.65, 0.15),
    (1.5, 30.5, 6.58, 0.16),
    (3.0, 30.0, 6.45, 0.18),
    (5.0, 29.5, 6.20, 0.22),
    (8.0, 27.0, 5.75, 0.36),
    (14.0, 22.0, 5.05, 0.68),
    (24.5, 20.5, 4.75, 0.95),
)


def tell_makes(journal: Journal, scale: Scale, ingredients: Ingredients) -> list[Made]:
    """Tell all makes with their milk, and the hooping; gives the makes with their wheels."""
    milking = Milking(journal)
    next_days = [*scale.make_days[1:], None]
    made = []
    for number, (day, next_day) in enumerate(zip(scale.make_days, next_days, strict=True), 1):
        wheels = journal.dice.between(*scale.wheels)
        make = Made(number, day, "", DAIRY, "QM-HOOP")
        make.lot = _tell_vat(journal, make, wheels, milking, ingredients, next_day)
        _tell_hooping(journal, make, wheels)
        made.append(make)
    return made


def _tell_vat(
    journal: Journal,
    make: Made,
    wheels: int,
    milking: Milking,
    ingredients: Ingredients,
    next_day: int | None,
) -> str:
    milk_ml = wheels * _ML_A_WHEEL
    inputs = milking.for_make(make.day, next_day, milk_ml)
    inputs += ingredients.for_make(make.day, milk_ml // 1000, wheels)
    start = at(make.day, 7, journal.dice.between(0, 15))
    vat = f"QM-VAT{make.number % 2 + 1}"
    lot = journal.new_lot(DAIRY, start, "make")
    readings = [
        VatReading(
            at=at(make.day, 7, 15 + hours * 60),
            temperature_c=round(journal.dice.spread(celsius, 0.6), 1),
            ph=round(journal.dice.spread(ph, 0.05), 2),
            acidity_pct=round(journal.dice.spread(acidity, 0.02), 2),
        )
        for hours, celsius, ph, acidity in _CURVE
    ]
    journal.add(
        Make(
            id=journal.new_id(start),
            at=start,
            site=DAIRY,
            product="QB-MAKE",
            vat=vat,
            inputs=inputs,
            lot=lot,
            heat=Heat(treatment="pasteurised", temperature_c=72.5, hold_s=15.0),
            readings=readings,
            ended_at=readings[-1].at,
            room="QM-VAT",
        )
    )
    cleaned = at(make.day + HOOPING_DAYS, 9, 30)
    journal.add(
        Clean(id=journal.new_id(cleaned), at=cleaned, site=DAIRY, method="caustic, acid", tool=vat)
    )
    return lot


def _tell_hooping(journal: Journal, make: Made, wheels: int) -> None:
    """Tell the hooping in two parts, as the hoops are filled."""
    half = wheels // 2
    milk_g = wheels * _ML_A_WHEEL * 1030 // 1000
    for part, count in enumerate((half, wheels - half)):
        moment = at(make.day + HOOPING_DAYS, 8, 45 * part)
        new = [
            Wheel(
                journal.new_lot(DAIRY, moment, "wheel"),
                make.number,
                moment,
                int(journal.dice.spread(_CURD_G, 280)),
                journal.dice.spread(1.0, 0.04),
            )
            for _ in range(count)
        ]
        journal.add(
            Hoop(
                id=journal.new_id(moment),
                at=moment,
                site=DAIRY,
                make=make.lot,
                product="QB-WHEEL",
                wheels=[NewWheel(mass_g=wheel.fresh_g, lot=wheel.lot) for wheel in new],
                room=make.room,
                # Four fifths of the whey run into the tank that is weighed.
                whey_g=(milk_g - wheels * _CURD_G) * 4 // 5 if part else 0,
                finished=part == 1,
            )
        )
        make.wheels += new
