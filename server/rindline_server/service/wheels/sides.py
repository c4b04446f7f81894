"""Which wheels count as judged well and which as judged badly."""

from collections.abc import Sequence
from itertools import compress
from typing import NamedTuple

from rindline_schema.params import ComparisonParams
from rindline_schema.problems import Fault
from rindline_server.service.problems import problem_error
from rindline_server.service.wheels.compared import ComparedWheel

__all__ = ["Sides", "split_wheels"]


class Sides(NamedTuple):
    """The wheels of each side and all that were judged, by id; and in words which are which."""

    in_words: str
    judged: frozenset[int]
    well: frozenset[int]
    badly: frozenset[int]


def split_wheels(wheels: Sequence[ComparedWheel], params: ComparisonParams) -> Sides:
    """Split by grades if some are named, else the upper third by score against the lower.

    Raises ProblemError ``unknown_parameter`` if a grade is named on both sides.
    """
    well, badly = _grades(params.well), _grades(params.badly)
    if well or badly:
        return _by_grades(wheels, well, badly)
    return _by_thirds(wheels)


def _grades(text: str | None) -> dict[str, str]:
    """Give the grades named, as written, by how they are compared: not by upper and lower case."""
    names = [name.strip() for name in (text or "").split(",")]
    return {name.casefold(): name for name in names if name}


def _by_grades(
    wheels: Sequence[ComparedWheel], well: dict[str, str], badly: dict[str, str]
) -> Sides:
    both = sorted(well.keys() & badly.keys())
    if both:
        detail = f"grade {badly[both[0]]!r} cannot be both well and badly judged"
        fault = Fault(pointer="badly", detail=detail)
        raise problem_error("unknown_parameter", f"badly: {detail}", faults=[fault])
    graded = {wheel.row.id: wheel.grade.casefold() for wheel in wheels if wheel.grade}
    # With only one side named, all other grades are the other side.
    is_well = [grade in well or (not well and grade not in badly) for grade in graded.values()]
    is_badly = [grade in badly or (not badly and grade not in well) for grade in graded.values()]
    words = [", ".join(names.values()) or "every other grade" for names in (well, badly)]
    return Sides(
        f"By the grade of the last ironing. Well: {words[0]}; badly: {words[1]}.",
        frozenset(graded),
        frozenset(compress(graded, is_well)),
        frozenset(compress(graded, is_badly)),
    )


def _by_thirds(wheels: Sequence[ComparedWheel]) -> Sides:
    scored = {wheel.row.id: wheel.score for wheel in wheels if wheel.score is not None}
    judged = frozenset(scored)
    if len(scored) < 3:
        return Sides(
            "By the mean score of the last ironing, the upper third against the lower: too few "
            "wheels have scores.",
            judged,
            frozenset(),
            frozenset(),
        )
    ordered = sorted(scored.values())
    third = len(ordered) // 3
    low, high = ordered[third - 1], ordered[-third]
    if low < high:
        well = frozenset(i for i, score in scored.items() if score >= high)
        badly = frozenset(i for i, score in scored.items() if score <= low)
        bounds = f"Well: {high:.1f} and more; badly: {low:.1f} and less."
    else:
        # So many share one score that the thirds meet in it: it belongs to neither.
        well = frozenset(i for i, score in scored.items() if score > high)
        badly = frozenset(i for i, score in scored.items() if score < low)
        bounds = f"Well: above {high:.1f}; badly: below it."
    return Sides(
        f"By the mean score of the last ironing, the upper third against the lower. {bounds}",
        judged,
        well,
        badly,
    )
