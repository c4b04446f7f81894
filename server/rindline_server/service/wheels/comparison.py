"""Makes, rooms or shelves side by side, and what sets wheels judged well apart from others."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from statistics import median

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import ComparedGroup, ComparedMeasure, ComparisonAnswer
from rindline_schema.params import ComparisonParams
from rindline_schema.registers import Room
from rindline_server.calc.air import AirRule
from rindline_server.calc.quantiles import quantile
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import Registers
from rindline_server.service.wheels.compared import ComparedWheel, read_wheels
from rindline_server.service.wheels.differences import LEAST_MAKES, LEAST_WHEELS, differences
from rindline_server.service.wheels.measures import LEAST_OBSERVED
from rindline_server.service.wheels.sides import Sides, split_wheels
from rindline_server.store import ReadTransaction, WheelFilter

__all__ = ["MOST_GROUPS", "MOST_WHEELS", "comparison"]

MOST_WHEELS = 2_000
"""How many wheels are compared, the newest; others are counted."""

MOST_GROUPS = 200
"""How many groups are given; others are counted."""


def comparison(
    snap: ReadTransaction, params: ComparisonParams, rule: AirRule, now_us: int
) -> ComparisonAnswer:
    """Compare the wheels of a product and time.

    Raises ProblemError ``unknown_parameter`` if a grade is named on both sides.
    """
    which = WheelFilter(
        product=params.product,
        from_us=_day_us(params.made_from) if params.made_from else None,
        before_us=_day_us(params.made_to + timedelta(days=1)) if params.made_to else None,
    )
    rows = snap.newest_wheels(which, MOST_WHEELS)
    left_out = snap.count_wheels(which) - len(rows) if len(rows) == MOST_WHEELS else 0
    wheels = read_wheels(snap, rows, rule, now_us, shelves=params.by == "shelf")
    sides = split_wheels(wheels, params)
    grouped = _grouped(wheels, params.by)
    kept = list(grouped)[:MOST_GROUPS]
    found = differences(
        [wheel for wheel in wheels if wheel.row.id in sides.well],
        [wheel for wheel in wheels if wheel.row.id in sides.badly],
    )
    return ComparisonAnswer(
        by=params.by,
        as_of=snap.as_of,
        safety_note=SAFETY_NOTE,
        split=sides.in_words,
        wheels=len(wheels),
        judged=len(sides.judged),
        least_wheels=LEAST_WHEELS,
        least_makes=LEAST_MAKES,
        groups=[
            _group(name, _name_of(snap.registers, params.by, name, now_us), grouped[name], sides)
            for name in kept
        ],
        differences=found,
        groups_left_out=len(grouped) - len(kept),
        wheels_left_out=left_out,
        notes=_notes(wheels, params.by, grouped, has_differences=bool(found)),
    )


def _day_us(day: date) -> int:
    return to_us(datetime.combine(day, time(), UTC))


# --- groups -------------------------------------------------------------------------------------


def _key(wheel: ComparedWheel, by: str) -> str | None:
    return {"make": wheel.make, "room": wheel.room, "shelf": wheel.shelf}[by]


def _grouped(wheels: Iterable[ComparedWheel], by: str) -> dict[str, list[ComparedWheel]]:
    """Put wheels together: makes from the newest, rooms and shelves from the fullest."""
    found: dict[str, list[ComparedWheel]] = {}
    for wheel in wheels:
        key = _key(wheel, by)
        if key is not None:
            found.setdefault(key, []).append(wheel)
    if by == "make":
        return found
    return dict(sorted(found.items(), key=lambda item: (-len(item[1]), item[0])))


def _name_of(registers: Registers, by: str, group: str, now_us: int) -> str | None:
    if by == "make":
        return None
    room, _, shelf = group.partition("/")
    entry = entry_at(registers, "room", room, now_us)
    if not isinstance(entry, Room):
        return None
    return f"{entry.name}, {shelf}" if shelf else entry.name


def _group(
    name: str, full_name: str | None, wheels: Sequence[ComparedWheel], sides: Sides
) -> ComparedGroup:
    ids = {wheel.row.id for wheel in wheels}
    scores = [wheel.score for wheel in wheels if wheel.score is not None]
    by_measure: dict[str, list[float]] = {}
    for wheel in wheels:
        for measure, value in wheel.measures.items():
            by_measure.setdefault(measure, []).append(value)
    return ComparedGroup(
        group=name,
        name=full_name,
        wheels=len(wheels),
        judged=len(ids & sides.judged),
        well=len(ids & sides.well),
        badly=len(ids & sides.badly),
        median_score=round(median(scores), 6) if scores else None,
        measures=[_measure(measure, sorted(values)) for measure, values in by_measure.items()],
    )


def _measure(measure: str, ordered: Sequence[float]) -> ComparedMeasure:
    low, middle, high = (round(quantile(ordered, share), 6) for share in (0.25, 0.5, 0.75))
    return ComparedMeasure(
        measure=measure,
        wheels=len(ordered),
        median=middle,
        low_quartile=low,
        high_quartile=high,
    )


# --- what a reader must know --------------------------------------------------------------------


def _notes(
    wheels: Sequence[ComparedWheel],
    by: str,
    grouped: dict[str, list[ComparedWheel]],
    *,
    has_differences: bool,
) -> list[str]:
    notes = []
    if has_differences:
        notes += [
            "A difference is not a cause: what goes along with it may be behind it.",
            (
                "All intervals hold together (95 %, Bonferroni), and wheels of one make count as "
                "kin. Makes of neighbouring days also share rooms and season: that is not allowed "
                "for, so differences of air are less sure than they look."
            ),
        ]
    notes.append(
        "Everything counts from hooping to the last ironing (of wheels not ironed, to the first "
        f"cut or now). Means of the air are given if {100 * LEAST_OBSERVED:.0f} % of that time "
        "was observed, and hold for the observed part."
    )
    lost = next((m for wheel in wheels for m in wheel.measures if m.startswith("lost_at_")), None)
    if lost is not None:
        notes.append(
            f"{lost}: at that age by interpolation between weighings; the oldest whole week that "
            "four in five of the weighed wheels reached."
        )
    without = len(wheels) - sum(map(len, grouped.values()))
    if without:
        notes.append(f"{without} wheels have no {by} told: they are in no group.")
    return notes
