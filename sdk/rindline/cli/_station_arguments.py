"""What the commands of a station take."""

import argparse
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from pathlib import Path

from rindline.cli._label_arguments import add_registers

__all__ = ["add_packs_check", "add_scale", "add_stamp"]

_PATTERNS = "halves, quarters (halved across, then quartered), eighths, or wedges:DEGREES"


def add_scale(parser: argparse.ArgumentParser) -> None:
    """Add what ``rindline scale`` takes."""
    _add_station(parser)
    parser.add_argument("--scale-code", metavar="CODE", help="the scale's name in the events")


def add_stamp(parser: argparse.ArgumentParser, code: Callable[[str], str]) -> None:
    """Add what ``rindline stamp`` takes; ``code`` reads a lot code."""
    parser.add_argument("lot", metavar="CODE", type=code, help="the wheel that is cut")
    parser.add_argument("--product", metavar="CODE", required=True, help="of the pieces")
    parser.add_argument(
        "--pattern", metavar="NAME", default="quarters", help=f"{_PATTERNS} (default: %(default)s)"
    )
    parser.add_argument(
        "--from", dest="first", metavar="N", type=int, default=1, help="begin with this piece"
    )
    parser.add_argument(
        "--wheel-g",
        metavar="GRAMS",
        type=int,
        help="the whole wheel's mass; without it the wheel is weighed first",
    )
    parser.add_argument(
        "--tolerance", metavar="PERCENT", type=int, default=20, help="(default: %(default)s)"
    )
    parser.add_argument("--tool", metavar="CODE")
    parser.add_argument("--room", metavar="CODE")
    _add_station(parser)
    labels = parser.add_argument_group("labels")
    where = labels.add_mutually_exclusive_group(required=True)
    where.add_argument(
        "--printer", metavar="NAME", help="a queue of the print service; - for its default one"
    )
    where.add_argument("--labels-in", metavar="FOLDER", type=Path, help="write PDF labels there")
    labels.add_argument("--size", default="62x40", help="in mm (default: %(default)s)")
    add_registers(parser)


def add_packs_check(parser: argparse.ArgumentParser) -> None:
    """Add what ``rindline packs-check`` takes."""
    parser.add_argument(
        "file",
        metavar="FILE",
        help="net masses in grams, separated by space or line ends; - reads standard input",
    )
    parser.add_argument(
        "--nominal", metavar="GRAMS", type=_grams, required=True, help="the mass on the packs"
    )


def _add_station(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("scale and outbox")
    group.add_argument(
        "--port", metavar="PORT", required=True, help="/dev/ttyUSB0, or tcp://host:port"
    )
    group.add_argument("--baud", type=int, default=9600, help="(default: %(default)s)")
    group.add_argument("--frame", default="8N1", help="of a serial port (default: %(default)s)")
    group.add_argument(
        "--format",
        metavar="PATTERN",
        required=True,
        help="how the scale writes a line: a regular expression with the groups value (or gross "
        "and tare), unit, stable, sign, fault",
    )
    group.add_argument("--unit", choices=("g", "kg", "lb"), help="where the lines name none")
    group.add_argument("--decimal", choices=(".", ","), default=".", help="(default: %(default)s)")
    group.add_argument(
        "--stable-when",
        metavar="TEXT",
        nargs="+",
        default=["S", "ST"],
        help="texts of the group stable that mean it (default: S ST)",
    )
    group.add_argument(
        "--readings", type=int, default=3, help="equal readings wanted (default: %(default)s)"
    )
    group.add_argument(
        "--still", metavar="SECONDS", type=float, default=0.5, help="(default: %(default)s)"
    )
    group.add_argument(
        "--within", metavar="GRAMS", type=int, default=2, help="of one another (default: 2)"
    )
    group.add_argument(
        "--most", metavar="GRAMS", type=int, default=60_000, help="(default: %(default)s)"
    )
    group.add_argument(
        "--outbox", metavar="FILE", type=Path, help="(default: what RINDLINE_OUTBOX says)"
    )
    group.add_argument("--site", metavar="CODE", help="where the key belongs to none")
    # What is asked of the server here only helps: nobody waits for it at a scale.
    parser.set_defaults(timeout=2.0)


def _grams(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation as error:
        raise argparse.ArgumentTypeError(f"{text!r} is not a mass in grams") from error
