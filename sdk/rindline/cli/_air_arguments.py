"""What the commands about readings and air take."""

import argparse
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

__all__ = ["add_climate", "add_compare", "add_conditions", "add_readings"]

_Read = Callable[[str], str]


def add_climate(parser: argparse.ArgumentParser, code: _Read) -> None:
    """Add the room and the time."""
    parser.add_argument("room", metavar="ROOM", type=code, help="a room's code")
    parser.add_argument(
        "--from", dest="from_at", metavar="TIME", type=_moment, help="(default: 28 days before)"
    )
    parser.add_argument(
        "--until",
        dest="until_at",
        metavar="TIME",
        type=_moment,
        help="a day, or a time such as 2026-03-01T06:30+01:00; without an offset it is the "
        "machine's local time (default: now)",
    )
    _add_air(parser)


def add_conditions(parser: argparse.ArgumentParser, code: _Read) -> None:
    """Add the lot."""
    parser.add_argument("lot", metavar="CODE", type=code, help="a lot code")
    _add_air(parser)


def _add_air(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--series", choices=("none", "hours", "days"), default="none", help="list them, too"
    )
    parser.add_argument(
        "--base-c", metavar="C", type=float, help="degree-hours above this (default: the server's)"
    )
    parser.add_argument(
        "--picture", metavar="FILE", type=Path, help="draw it into a .svg, .png or .pdf file"
    )


def add_compare(parser: argparse.ArgumentParser, code: _Read, day: Callable[[str], date]) -> None:
    """Add by what wheels are compared, and which."""
    parser.add_argument(
        "--by", choices=("make", "room", "shelf"), default="make", help="(default: %(default)s)"
    )
    parser.add_argument("--product", metavar="CODE", type=code)
    parser.add_argument("--made-from", metavar="DATE", type=day, help="made on this day or later")
    parser.add_argument("--made-to", metavar="DATE", type=day, help="made on this day or before")
    for side in ("well", "badly"):
        parser.add_argument(
            f"--{side}",
            metavar="GRADE",
            action="append",
            help=f"a grade that counts as judged {side}; repeatable (default: by the scores)",
        )


def add_readings(
    parser: argparse.ArgumentParser, code: _Read, shared: argparse.ArgumentParser
) -> None:
    """Add what can be done with readings; each action takes what is ``shared``, too."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)

    def action(name: str, summary: str) -> argparse.ArgumentParser:
        return actions.add_parser(
            name, help=summary, description=summary, parents=[shared], allow_abbrev=False
        )

    _add_import(action("import", "tell the readings in a logger's file, by a stated mapping"), code)
    for name, summary in (
        ("status", "how a logger's outbox is doing, and what was refused"),
        ("send", "send what is queued in a logger's outbox, here and now"),
        ("retry", "queue the readings that are set aside again"),
        ("drop", "forget the readings that are set aside, for good"),
    ):
        action(name, summary).add_argument("file", metavar="FILE", help="the outbox's file")


def _add_import(parser: argparse.ArgumentParser, code: _Read) -> None:
    parser.add_argument("file", metavar="FILE", help="the file; - reads standard input")
    parser.add_argument(
        "--dry-run",
        action="store_true",
        help="show the first rows as they are understood, and tell nothing",
    )
    columns = parser.add_argument_group(
        "columns", "A name in the header, or a number counted from 1."
    )
    columns.add_argument(
        "--time",
        metavar="COLUMN",
        type=_column,
        action="append",
        required=True,
        help="repeatable: a column of days and one of times of day, say",
    )
    columns.add_argument("--temperature", metavar="COLUMN", type=_column)
    columns.add_argument("--humidity", metavar="COLUMN", type=_column)
    sensor = columns.add_mutually_exclusive_group(required=True)
    sensor.add_argument("--sensor", metavar="CODE", type=code, help="all are of this sensor")
    sensor.add_argument(
        "--sensor-column", metavar="COLUMN", type=_column, help="codes of sensors, or their names"
    )
    columns.add_argument(
        "--sensor-is",
        metavar="NAME=CODE",
        type=_named,
        action="append",
        default=[],
        help="what the sensor column calls a sensor; repeatable",
    )
    form = parser.add_argument_group("form")
    form.add_argument(
        "--time-format",
        metavar="PATTERN",
        default="iso",
        help="iso, or a pattern such as '%%d.%%m.%%Y %%H:%%M' (default: %(default)s)",
    )
    form.add_argument(
        "--zone",
        metavar="ZONE",
        help="whose local times they are, if they carry no offset: CET, +01:00",
    )
    form.add_argument(
        "--repeated-hour",
        choices=("first", "second"),
        help="the hour that comes twice when daylight saving ends, where the file has it once",
    )
    form.add_argument(
        "--unit", choices=("celsius", "fahrenheit"), default="celsius", help="(default: celsius)"
    )
    form.add_argument("--decimal-comma", action="store_true", help="12,5 and not 12.5")
    form.add_argument(
        "--delimiter", metavar="SIGN", type=_delimiter, default=",", help="a sign, or tab"
    )
    form.add_argument("--encoding", metavar="NAME", default="utf-8", help="(default: %(default)s)")
    form.add_argument(
        "--missing",
        metavar="TEXT",
        action="append",
        default=[],
        help="what stands where there is no value; repeatable",
    )
    form.add_argument(
        "--skip", metavar="LINES", type=_count, default=0, help="before the header or first row"
    )
    form.add_argument("--no-header", action="store_true", help="the first row holds values")


def _column(text: str) -> str | int:
    return int(text) if text.isascii() and text.isdigit() else text


def _named(text: str) -> tuple[str, str]:
    name, sign, code = text.rpartition("=")
    if not (sign and name and code):
        raise argparse.ArgumentTypeError(f"{text!r} is not a name, =, and a code")
    return name, code.strip().upper()


def _delimiter(text: str) -> str:
    return "\t" if text in ("tab", "\\t") else text


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit()):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 0 on")
    return int(text)


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(
            f"{text!r} is neither a day nor a time such as 2026-03-01T06:30"
        ) from error
    return moment if moment.tzinfo is not None else moment.astimezone()
