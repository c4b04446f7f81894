"""What the command line takes."""

import argparse
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import get_args

from rindline._core import DEFAULT_SERVER
from rindline.cli._air_arguments import add_climate, add_compare, add_conditions, add_readings
from rindline.cli._exits import EXIT_CODES
from rindline.cli._label_arguments import add_label, add_registers
from rindline.cli._outbox_arguments import add_outbox
from rindline.cli._station_arguments import add_packs_check, add_scale, add_stamp
from rindline_schema.answers import LotState
from rindline_schema.registers import LotKind

__all__ = ["build_parser"]

_SERVER = "RINDLINE_SERVER"
_TIMEOUT_S = 90.0
_EPILOG = "\n".join(
    [
        "environment:",
        f"  {_SERVER:<16}the server's address, where --server is not given",
        "  RINDLINE_KEY    the key, where --key-file is not given; never on the command line,",
        "                  where other users of the machine could read it",
        "  NO_COLOR        no colours",
        "",
        "exit codes:",
        *(f"  {code:<5}{meaning}" for code, meaning in EXIT_CODES.items()),
    ]
)


def build_parser(default_server: str | None) -> argparse.ArgumentParser:
    """Build the parser; ``default_server`` is what the environment says."""
    parser = argparse.ArgumentParser(
        prog="rindline",
        allow_abbrev=False,
        description="Ask and tell the record of where every piece of cheese came from and went.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    server = default_server or DEFAULT_SERVER
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, summary: str) -> argparse.ArgumentParser:
        return commands.add_parser(
            name,
            help=summary,
            description=summary,
            # Each has its own: a default that one sets would hold for all who share it.
            parents=[_shared(server)],
            # Or --key SECRET would pass for --key-file SECRET.
            allow_abbrev=False,
            epilog=_EPILOG,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )

    origin = command("origin", "where a lot came from, with its share of each milk delivery")
    origin.add_argument("lot", metavar="CODE", type=_code, help="a lot code")
    _add_trace(command("trace", "every lot before (back) or after (forward) a lot"))
    _add_drill(command("drill", "run a recall drill from some lots; it is kept"))
    drills = command("drills", "drills that were run, or one of them again")
    drills.add_argument("drill", metavar="ID", nargs="?", help="show this one as it was answered")
    _add_limit(drills)
    _add_lots(command("lots", "search lots"))
    lot = command("lot", "what is known of one lot")
    lot.add_argument("lot", metavar="CODE", type=_code, help="a lot code")
    _add_as_of(lot)
    discrepancies = command("discrepancies", "what does not fit together")
    discrepancies.add_argument(
        "--show", choices=("open", "settled", "all"), default="open", help="(default: open)"
    )
    discrepancies.add_argument("--lot", metavar="CODE", type=_code, help="of this lot only")
    _add_limit(discrepancies)
    _add_tell(command("tell", "tell the events in a file"))
    add_label(command("label", "print a lot's or a case's label"), _code, _day, _positive)
    add_registers(command("registers", "keep register entries for labels without a network"))
    add_outbox(command("outbox", "what waits in a station's outbox, and what was refused"))
    add_scale(command("scale", "weigh lots at a scale, one after the other"))
    add_stamp(command("stamp", "cut a wheel: weigh, stamp and label its pieces"), _code)
    add_packs_check(command("packs-check", "check packs of one nominal mass"))
    _add_air(command, _shared(server, again=True))
    command("whoami", "what the key may do")
    return parser


def _add_air(
    command: Callable[[str, str], argparse.ArgumentParser], again: argparse.ArgumentParser
) -> None:
    command("sensors", "where each sensor hangs, what it showed last, what is in doubt")
    add_climate(command("climate", "the air of a room over a time"), _code)
    add_conditions(
        command("conditions", "rooms, air, handlings and ages of a lot since hooping"), _code
    )
    loss = command("weight-loss", "how a wheel, or each wheel of a make, lost weight")
    loss.add_argument("lot", metavar="CODE", type=_code, help="the code of a wheel or a make")
    add_compare(command("compare", "makes, rooms or shelves side by side"), _code, _day)
    add_readings(command("readings", "a logger's file, or a logger's outbox"), _code, again)


def _shared(server: str, *, again: bool = False) -> argparse.ArgumentParser:
    """Give what every command takes; ``again`` for an action of a command, which may repeat it."""

    def default(value: object = None) -> object:
        # Or an action that does not repeat it would take back what the command was given.
        return argparse.SUPPRESS if again else value

    shared = argparse.ArgumentParser(add_help=False)
    group = shared.add_argument_group("connection and output")
    group.add_argument(
        "--server",
        metavar="URL",
        default=default(server),
        help=f"(default: {server})".replace("%", "%%"),
    )
    group.add_argument(
        "--key-file",
        metavar="FILE",
        type=Path,
        default=default(),
        help="a file that holds the key and nothing else",
    )
    group.add_argument(
        "--timeout",
        metavar="SECONDS",
        type=_seconds,
        default=default(_TIMEOUT_S),
        help=f"give up after this time, retries included (default: {_TIMEOUT_S:g})",
    )
    group.add_argument(
        "--json", action="store_true", default=default(value=False), help="print the answer as JSON"
    )
    return shared


def _add_trace(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("direction", choices=("back", "forward"))
    parser.add_argument("lot", metavar="CODE", type=_code, help="a lot code")
    parser.add_argument("--edges", action="store_true", help="list also what went into what")
    _add_as_of(parser)


def _add_drill(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("lots", metavar="CODE", type=_code, nargs="+", help="lot codes")
    direction = parser.add_mutually_exclusive_group()
    for name, what in (
        ("back", "what they were made of"),
        ("forward", "what was made of them"),
        ("both", "both (the default)"),
    ):
        direction.add_argument(
            f"--{name}", dest="direction", action="store_const", const=name, help=what
        )
    parser.set_defaults(direction="both")
    parser.add_argument("--live", action="store_true", help="a real withdrawal or recall")
    parser.add_argument("--reason", metavar="TEXT", help="why; kept with the drill")


def _add_lots(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--kind", choices=get_args(LotKind))
    parser.add_argument("--product", metavar="CODE")
    parser.add_argument("--site", metavar="CODE")
    parser.add_argument("--state", choices=get_args(LotState))
    held = parser.add_mutually_exclusive_group()
    held.add_argument("--held", action="store_true", default=None, help="on hold")
    held.add_argument("--not-held", dest="held", action="store_false", help="not on hold")
    parser.add_argument("--made-from", metavar="DATE", type=_day, help="made on this day or later")
    parser.add_argument("--made-to", metavar="DATE", type=_day, help="made on this day or before")
    parser.add_argument("--prefix", metavar="TEXT", type=_code, help="how the code begins")
    _add_limit(parser)


def _add_tell(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "file",
        metavar="FILE",
        help="a JSON object, an array of them, or one object a line; - reads standard input",
    )
    how = parser.add_mutually_exclusive_group()
    how.add_argument(
        "--all-or-nothing",
        action="store_true",
        help="record none if any is refused (at most 1,000 events)",
    )
    how.add_argument(
        "--try",
        dest="dry_run",
        action="store_true",
        help="ask what would be answered and record nothing (at most 1,000 events)",
    )


def _add_limit(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--limit", type=_positive, default=100, help="at most so many (default: %(default)s)"
    )


def _add_as_of(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--as-of", metavar="SEQ", type=int, help="as the record stood at this event's number"
    )


def _code(text: str) -> str:
    return text.strip().upper()


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day such as 2026-03-01") from error


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0 < seconds < 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds above 0")
    return seconds


def _positive(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text)):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 1 on")
    return int(text)
