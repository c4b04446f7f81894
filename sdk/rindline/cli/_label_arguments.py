"""What ``rindline label`` takes."""

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path

from rindline_schema.gs1 import DIGITAL_LINK_BASE
from rindline_schema.labels import LABEL_SIZES

__all__ = ["add_label", "add_registers"]


def add_registers(parser: argparse.ArgumentParser) -> None:
    """Say where register entries are kept."""
    parser.add_argument(
        "--registers",
        metavar="FILE",
        type=Path,
        help="where register entries are kept (default: in the user's cache folder)",
    )


def add_label(
    parser: argparse.ArgumentParser,
    code: Callable[[str], str],
    day: Callable[[str], date],
    positive: Callable[[str], int],
) -> None:
    """Add the arguments; the functions read a code, a day and a number above 0."""
    parser.add_argument("code", metavar="CODE", type=code, help="a lot code, or a case's SSCC")
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--out", metavar="FILE", type=Path, help="a .svg, .png or .pdf file")
    where.add_argument(
        "--printer", metavar="NAME", help="a queue of the print service; - for its default one"
    )
    parser.add_argument("--size", choices=sorted(LABEL_SIZES), help="in mm (default: 62x40)")
    parser.add_argument("--copies", type=positive, default=1, help="(default: %(default)s)")
    parser.add_argument(
        "--dots", type=int, choices=(8, 12, 24), default=8, help="the printer's dots a mm"
    )
    parser.add_argument("--reprint", metavar="REASON", help="printed again: why; it is recorded")
    facts = parser.add_argument_group(
        "facts", "With --product and --mass-g the server is not asked for anything."
    )
    facts.add_argument("--product", metavar="CODE", type=code)
    facts.add_argument("--site", metavar="CODE", type=code, help="(default: the lot code's)")
    facts.add_argument("--mass-g", metavar="GRAMS", type=positive, help="net mass")
    facts.add_argument("--packed", metavar="DATE", type=day)
    facts.add_argument("--made", metavar="DATE", type=day)
    facts.add_argument("--best-before", metavar="DATE", type=day)
    facts.add_argument(
        "--short-date", action="store_true", help="no more of the date than the law asks for"
    )
    for name in ("wheel", "make"):
        facts.add_argument(
            f"--{name}", metavar="CODE", type=code, action="append", default=[], help="repeatable"
        )
    facts.add_argument(
        "--holds",
        metavar="LOT:COUNT:GRAMS",
        action="append",
        default=[],
        help="what lies in a case; repeatable",
    )
    parser.add_argument(
        "--link-base",
        metavar="URL",
        default=DIGITAL_LINK_BASE,
        help="the address in the QR symbol (default: %(default)s)",
    )
    add_registers(parser)
