"""The conditions of a lot in words: a sentence for a shop, and what must be known of the paths."""

from collections.abc import Iterable, Mapping, Sequence

from msgspec.structs import replace

from rindline_schema.answers import ConditionPath
from rindline_server.calc.ages import whole_days
from rindline_server.calc.air import AirRule
from rindline_server.calc.ways import MOST_COUNTED
from rindline_server.ledger.times import from_us as moment
from rindline_server.ledger.times import to_us
from rindline_server.service.air.notes import notes_on
from rindline_server.service.conditions.told import Told
from rindline_server.service.conditions.way import Way
from rindline_server.service.lots import kind_of
from rindline_server.store import LOT_STATES

__all__ = ["in_words", "no_paths", "notes_on_air", "notes_on_ways"]

_WEEK_DAYS = 7
_FEW_WEEKS = 2
_NEARLY_ALL = 0.99
_UNROOMED = {
    "away": "it was away, between two sites or with a partner",
    "no_room": "it was in no room as far as is told",
}


def in_words(paths: Sequence[ConditionPath], names: Mapping[str, str], way_count: int) -> str:
    """Say the first path in a sentence; ``names`` are of rooms by code."""
    if not paths:
        return "Nothing is told of how it ripened."
    said = _of_path(paths[0], names)
    if way_count == 1:
        return said
    return f"The largest of {way_count} inputs: {said[0].lower()}{said[1:]}"


def _of_path(path: ConditionPath, names: Mapping[str, str]) -> str:
    figures = path.figures
    said = f"Ripened {_duration(to_us(path.from_at), to_us(path.until_at))}"
    where = _where(path, names)
    if where:
        said += f", {where}"
    means = []
    if figures.temperature is not None:
        means.append(f"{figures.temperature.mean_c:.1f} °C")
    if figures.humidity is not None:
        means.append(f"{figures.humidity.mean_pct:.0f} % humidity")
    if not means:
        return f"{said}; the air was not measured."
    said += f", at {' and '.join(means)} on average"
    share = figures.observed_hours / figures.hours if figures.hours else 1.0
    if figures.temperature is not None and share < _NEARLY_ALL:
        said += f", measured for {int(share * 100)} % of the time"
    return f"{said}."


def _duration(from_us: int, until_us: int) -> str:
    days = whole_days(from_us, until_us)
    weeks = days // _WEEK_DAYS
    if weeks >= _FEW_WEEKS:
        return f"{weeks} weeks"
    return "1 day" if days == 1 else f"{days} days" if days else "less than a day"


def _where(path: ConditionPath, names: Mapping[str, str]) -> str:
    """Name the room where it was longest, if it was in any."""
    hours: dict[str, float] = {}
    for stay in path.stays:
        if stay.room is not None:
            hours[stay.room] = hours.get(stay.room, 0.0) + stay.figures.hours
    if not hours:
        return ""
    longest = max(hours, key=lambda room: (hours[room], room))
    name = _with_article(names.get(longest, longest))
    if hours[longest] >= _NEARLY_ALL * path.figures.hours:
        return f"in {name}"
    if hours[longest] * 2 >= path.figures.hours:
        return f"mostly in {name}"
    return f"in {len(hours)} rooms, longest in {name}" if len(hours) > 1 else f"partly in {name}"


def _with_article(name: str) -> str:
    """A vault is "the North vault"; what is numbered, or named so, has no article."""
    if name[-1:].isdigit() or name.lower().startswith("the "):
        return name
    return f"the {name}"


# --- notes ----------------------------------------------------------------------------------------


def no_paths(told: Told) -> list[str]:
    """Say why there is no path, if there cannot be one."""
    lot = told.ancestry.lot
    kind = kind_of(lot.kind)
    if kind in ("milk", "ingredient"):
        return [f"{lot.code} is not cheese: conditions begin when a wheel is hooped."]
    if kind == "make":
        return [f"{lot.code} is a make: conditions begin when its wheels are hooped."]
    if LOT_STATES[lot.state] == "pending":
        return [f"What made {lot.code} is not told yet, nor where it was."]
    if not told.ways:
        return [f"{lot.code} comes from no wheel."]
    return []


def notes_on_ways(told: Told, ways: Iterable[Way]) -> list[str]:
    """Say what is missing in the ways, and what was counted how."""
    notes: list[str] = []
    for way in ways:
        first = way.first
        if first.born_us is None:
            what = "Its hooping" if kind_of(first.kind) == "wheel" else "What made it"
            notes.append(
                f"{first.code}: {what[0].lower()}{what[1:]} is not told yet; "
                f"its path begins {moment(way.from_us):%Y-%m-%d %H:%M} UTC with what is told first."
            )
        elif way.make is None or way.make.born_us is None:
            notes.append(f"{first.code}: its make is not told yet; ages count from hooping.")
        notes += [
            f"Pieces of {segment.lot.code} lay at several sites at once: the path's figures follow "
            "one of them, so that each hour counts once."
            for segment in way.segments
            if segment.beside
        ]
    notes += [
        f"{lot.code} went into it and is not from a wheel: it has no path."
        for lot in told.strangers
    ]
    if told.way_count >= MOST_COUNTED:
        notes.append("There are more paths than were counted.")
    return notes


def notes_on_air(path: ConditionPath, rule: AirRule, *, is_only: bool) -> list[str]:
    """Say what a reader of a path's figures must know: what was not measured, and what is in doubt.

    Named by its wheel unless it is the only one.
    """
    hours = dict.fromkeys(_UNROOMED, 0.0)
    for span in path.unobserved:
        if span.why in hours:
            hours[span.why] += span.hours
    elsewhere = sum(hours.values())
    in_rooms = replace(
        path.figures,
        hours=path.figures.hours - elsewhere,
        unobserved_hours=path.figures.unobserved_hours - elsewhere,
    )
    notes = [f"For {hours[why]:.1f} hours {said}." for why, said in _UNROOMED.items() if hours[why]]
    if path.figures.hours > elsewhere:
        notes += notes_on(path.sensors, path.doubts, in_rooms, rule)
    return notes if is_only else [f"{path.lots[0]}: {note}" for note in notes]
