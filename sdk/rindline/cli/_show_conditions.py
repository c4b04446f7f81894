"""The conditions a lot lived in, as people read them: the same as the picture shows."""

from collections.abc import Sequence
from string import ascii_lowercase

from rindline.cli._curves import Axis, Drawing, band, letters
from rindline.cli._figures import kilograms, local_time, plain_figure
from rindline.cli._screen import Screen
from rindline.cli._show_air import (
    draw_air,
    show_figures,
    show_ground,
    show_notes,
    show_rows,
    show_series,
    show_spells,
)
from rindline_schema.answers import (
    Ages,
    ConditionPath,
    ConditionsAnswer,
    Handling,
    StayConditions,
)

__all__ = ["show_conditions"]

_HANDLINGS = {
    "sale": "S",
    "cut": "C",
    "pierce": "P",
    "iron": "I",
    "weigh": "k",
    "wash": "w",
    "brush": "b",
    "rub": "r",
    "turn": "t",
}
_OTHER = "x"
_ORDER = "".join(_HANDLINGS.values()) + _OTHER
# Turnings and such are drawn; listed are those with something to read.
_LISTED = ("sale", "cut", "pierce", "iron", "weigh")
_SCORES = ("body", "texture", "blueing", "coat", "flavour")
_PATHS_SHOWN = 5


def show_conditions(screen: Screen, answer: ConditionsAnswer, *, listed: bool) -> None:
    """Print each path: bands, curves, handlings, figures; the series if ``listed``."""
    named = f"{answer.product} ({answer.product_name})" if answer.product_name else answer.product
    screen.facts(
        [
            ("Lot", answer.lot),
            ("Kind", answer.kind),
            ("Product", named or ""),
            ("At", local_time(answer.at)),
        ]
    )
    screen.line(answer.in_words)
    shown = answer.paths[:_PATHS_SHOWN]
    for number, path in enumerate(shown, 1):
        screen.line()
        if len(answer.paths) > 1:
            screen.line(f"Path {number} of {len(answer.paths)}: {' > '.join(path.lots)}")
        _show_path(screen, path, listed=listed)
    left_out = len(answer.paths) - len(shown) + answer.paths_left_out
    if left_out:
        screen.line(f"Note: {left_out} more paths are not shown; --json has those that were given")
    show_notes(screen, answer)


def _show_path(screen: Screen, path: ConditionPath, *, listed: bool) -> None:
    rooms = _letters_of(path.stays)
    screen.lines(_drawn(screen, path, rooms))
    screen.line(_legend(path.handlings))
    screen.line("^ above a limit   v below   ! both   . not observed")
    screen.table(
        "Stays",
        ("", "Room", "From", "Lot"),
        [
            (rooms[_place(stay)], _room(stay), _from(stay), stay.lot if path.lots[1:] else "")
            for stay in path.stays
        ],
        none="no room was told",
    )
    rows = [(rooms[_place(stay)], stay.figures) for stay in path.stays]
    show_rows(screen, [*rows, ("all", path.figures)])
    screen.line("The whole path")
    show_figures(screen, path.figures)
    show_spells(screen, path.figures)
    _show_handlings(screen, path.handlings)
    _show_ages(screen, path.ages)
    if path.sixty_days is not None:
        sixty = path.sixty_days
        screen.line()
        screen.line(sixty.wording)
        screen.line(f"{sixty.regulation}, as read on {sixty.read_on}.")
        screen.line()
    show_ground(screen, path.sensors, path.unobserved, path.doubts)
    if listed:
        show_series(screen, path.series)


def _drawn(screen: Screen, path: ConditionPath, rooms: dict[str, str]) -> list[str]:
    axis = Axis.of(path.from_at, path.until_at, screen.width)
    drawing = Drawing.of(blocks=screen.draws)
    stays = [
        (rooms[_place(stay)], stay.room or "?", stay.from_at, stay.until_at) for stay in path.stays
    ]
    signs = [(_HANDLINGS.get(done.kind, _OTHER), done.at) for done in path.handlings]
    return [
        *draw_air(axis, drawing, path.series, path.figures.spells),
        band("rooms", axis, stays, drawing),
        *letters("done", axis, signs, _ORDER),
        axis.ends(),
    ]


def _letters_of(stays: Sequence[StayConditions]) -> dict[str, str]:
    """Give each room a letter, in the order in which they were entered."""
    places = dict.fromkeys(map(_place, stays))
    names = [*ascii_lowercase, *(a + b for a in ascii_lowercase for b in ascii_lowercase)]
    return dict(zip(places, names, strict=False))


def _place(stay: StayConditions) -> str:
    return f"{stay.site}/{stay.room or ''}"


def _room(stay: StayConditions) -> str:
    if stay.room is None:
        return f"{stay.site}, room not told"
    return f"{stay.room} ({stay.room_name})" if stay.room_name else stay.room


def _from(stay: StayConditions) -> str:
    return local_time(stay.from_at) + (", still there" if stay.still_there else "")


def _legend(handlings: Sequence[Handling]) -> str:
    kinds = {done.kind for done in handlings}
    known = [f"{sign} {kind}" for kind, sign in _HANDLINGS.items() if kind in kinds]
    return "   ".join([*known, *(f"{_OTHER} {kind}" for kind in sorted(kinds - set(_HANDLINGS)))])


def _show_handlings(screen: Screen, handlings: Sequence[Handling]) -> None:
    rows = [
        (done.kind, local_time(done.at), f"{done.age_days:.1f}", _what(done))
        for done in handlings
        if done.kind in _LISTED
    ]
    others: dict[str, int] = {}
    for done in handlings:
        if done.kind not in _LISTED:
            others[done.kind] = others.get(done.kind, 0) + 1
    screen.table("Done along the path", ("What", "When", ">Age, days", "How"), rows)
    if others:
        screen.line("Besides: " + ", ".join(f"{kind} {count} x" for kind, count in others.items()))


def _what(done: Handling) -> str:
    said = []
    if done.mass_g is not None:
        said.append(f"{kilograms(done.mass_g)} kg")
    if done.holes is not None:
        said.append(f"{done.holes} holes")
    if done.grade is not None:
        said.append(f"grade {done.grade}")
    scores = [f"{name} {score}" for name in _SCORES if (score := getattr(done, name)) is not None]
    return ", ".join([*said, *scores, *filter(None, [done.tool])])


def _show_ages(screen: Screen, ages: Ages) -> None:
    screen.facts(
        [
            ("Counted from", f"{local_time(ages.counted_from)}, {ages.counted_from_what}"),
            *(
                (title, "" if days is None else f"{plain_figure(days, 0)} days old")
                for title, days in (
                    ("At piercing", ages.at_piercing_days),
                    ("At cutting", ages.at_cutting_days),
                    ("At sale", ages.at_sale_days),
                    ("Now", ages.now_days),
                )
            ),
        ]
    )
