"""Fills that can be told apart without colour."""

from rindline_server.pages.sheet import Sheet

__all__ = ["BEYOND", "GAP", "ROOMS", "define_fills"]

GAP, BEYOND = "gap", "beyond"
ROOMS = 6
"""How many fills of rooms there are; the rooms after these take them in turn."""

_STROKE = 'stroke="#555" stroke-width="1" fill="none"'


def _ground(size: float, fill: str = "#fff") -> str:
    return f'<rect width="{size}" height="{size}" fill="{fill}"/>'


_ROOM_FILLS = (
    (6, f'{_ground(6)}<circle cx="3" cy="3" r="1" fill="#555"/>'),
    (5, f'{_ground(5)}<path d="M0 2.5H5" {_STROKE}/>'),
    (8, _ground(8, "#d4d4d4")),
    (6, f'{_ground(6)}<path d="M3 0V6" {_STROKE}/>'),
    (8, _ground(8)),
    (7, f'{_ground(7, "#e4e4e4")}<path d="M3.5 1.5V5.5M1.5 3.5H5.5" {_STROKE}/>'),
)


def define_fills(sheet: Sheet, name: str) -> None:
    """Define all fills of a picture: its ``name`` and a hyphen stand before theirs."""
    stripe = f'{_ground(7)}<path d="M0 0V7" stroke="#777" stroke-width="3"/>'
    sheet.define(_pattern(f"{name}-{GAP}", 7, stripe, "rotate(-45)"))
    dense = f'{_ground(3)}<rect width="1.7" height="1.7" fill="#8a1c10"/>'
    sheet.define(_pattern(f"{name}-{BEYOND}", 3, dense))
    for number, (size, content) in enumerate(_ROOM_FILLS):
        sheet.define(_pattern(f"{name}-room{number}", size, content))


def _pattern(ident: str, size: float, content: str, turn: str = "") -> str:
    turned = f' patternTransform="{turn}"' if turn else ""
    return (
        f'<pattern id="{ident}" width="{size}" height="{size}" '
        f'patternUnits="userSpaceOnUse"{turned}>{content}</pattern>'
    )
