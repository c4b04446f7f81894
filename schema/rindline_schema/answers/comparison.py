"""Makes, rooms and shelves side by side, and what sets well judged wheels apart from others."""

from rindline_schema.answers.telling import Answer

__all__ = ["ComparedGroup", "ComparedMeasure", "ComparisonAnswer", "Difference", "SideOfWheels"]


class ComparedMeasure(Answer, kw_only=True, frozen=True):
    """One measure over the wheels of a group: median and middle half; unit as its name ends."""

    measure: str
    wheels: int
    median: float
    low_quartile: float
    high_quartile: float


class ComparedGroup(Answer, kw_only=True, frozen=True):
    """A make, a room or a shelf: its wheels, how they were judged, and their measures.

    A wheel that was in several rooms or on several shelves counts where it was longest.
    """

    group: str
    wheels: int
    judged: int
    well: int
    badly: int
    name: str | None = None
    median_score: float | None = None
    measures: list[ComparedMeasure] = []


class SideOfWheels(Answer, kw_only=True, frozen=True):
    """The wheels on one side of the split that have this measure, and from how many makes."""

    wheels: int
    makes: int
    median: float | None = None


class Difference(Answer, kw_only=True, frozen=True):
    """How a measure differs between wheels judged well and badly.

    ``shift`` is the typical difference (well minus badly, Hodges and Lehmann) and ``effect``
    Cliff's delta, from -1 to 1: how much likelier the one side is above the other. Intervals
    hold together for all measures (95 %), and wheels of one make count as one another's kin.
    ``verdict`` is too_few, no_clear_difference or clear_difference.
    """

    measure: str
    well: SideOfWheels
    badly: SideOfWheels
    verdict: str
    in_words: str
    shift: float | None = None
    low_shift: float | None = None
    high_shift: float | None = None
    effect: float | None = None
    low_effect: float | None = None
    high_effect: float | None = None


class ComparisonAnswer(Answer, kw_only=True, frozen=True):
    """Groups side by side, and the differences between wheels judged well and badly.

    ``split`` says in words which wheels are which. Below ``least_wheels`` wheels or
    ``least_makes`` makes on a side there is no verdict. A difference is not a cause.
    """

    by: str
    as_of: int
    safety_note: str
    split: str
    wheels: int
    judged: int
    least_wheels: int
    least_makes: int
    groups: list[ComparedGroup] = []
    differences: list[Difference] = []
    groups_left_out: int = 0
    wheels_left_out: int = 0
    notes: list[str] = []
