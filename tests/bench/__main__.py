"""Measure throughput, look-ups, traces, air and growth: ``python -m tests.bench``.

Not part of CI: what it finds depends on the machine. It listens on this machine's own address
only and leaves nothing behind but the file asked for.
"""

import argparse
import sys
from pathlib import Path

import msgspec

from tests.bench.air_parts import AirLoad
from tests.bench.parts import Load
from tests.bench.records import DATABASES
from tests.bench.report import as_json, machine_facts, print_tables
from tests.bench.run import run

_LOAD = Load()
_AIR = AirLoad()


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument(
        "--lots",
        type=int,
        nargs="+",
        default=[100_000, 1_000_000],
        help="lots in the small record and the large; one number is the large record, the small "
        "one then has a tenth",
    )
    parser.add_argument("--database", choices=DATABASES, action="append", help="default: both")
    parser.add_argument(
        "--only", choices=("lots", "air"), help="leave the other out (default: both)"
    )
    parser.add_argument(
        "--weeks",
        type=int,
        default=_AIR.weeks,
        help="how long the wheel lives whose air is asked for, measured every minute; the large "
        "record has four times the rooms and the time",
    )
    parser.add_argument(
        "--readings", type=int, default=_AIR.readings, help="told in all rounds, each way"
    )
    parser.add_argument("--rounds", type=int, default=_LOAD.rounds)
    parser.add_argument("--out", type=Path, help="write everything to this file as JSON")
    arguments = parser.parse_args()
    if len(arguments.lots) == 1:
        arguments.lots.insert(0, arguments.lots[0] // 10)
    if len(arguments.lots) != 2 or not 0 < arguments.lots[0] < arguments.lots[1]:
        parser.error("--lots takes one number, or a smaller and a larger one")
    return arguments


def main() -> int:
    """Run the bench as the command line asks."""
    arguments = _arguments()
    small, large = arguments.lots
    # A short run is short in all its parts.
    load = _LOAD if large >= 100_000 else _LOAD._replace(batches=2, single_events=400, look_ups=400)
    rounds = arguments.rounds
    reports, took_s = run(
        tuple(arguments.database or DATABASES),
        None if arguments.only == "air" else ((small, large), load._replace(rounds=rounds)),
        None
        if arguments.only == "lots"
        else AirLoad(rounds=rounds, weeks=arguments.weeks, readings=arguments.readings),
        lambda text: print(text, file=sys.stderr, flush=True),
    )
    facts = machine_facts()
    print_tables(reports, facts)
    if arguments.out is not None:
        text = msgspec.json.encode(as_json(reports, facts, took_s))
        arguments.out.write_bytes(msgspec.json.format(text, indent=2) + b"\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
