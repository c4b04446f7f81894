"""Checking a run of packs of one nominal mass."""

import sys
from argparse import Namespace
from decimal import Decimal, InvalidOperation
from pathlib import Path

from rindline.cli._exits import DONE, REFUSED
from rindline.cli._screen import Screen
from rindline.client import Client
from rindline.errors import InvalidInputError
from rindline.stations import PackCheck, check_packs

__all__ = ["check_packs_file"]


def check_packs_file(client: Client, screen: Screen, arguments: Namespace) -> int:  # noqa: ARG001
    """Work out the figures of the masses in a file; REFUSED if a rule does not hold."""
    check = check_packs(_masses(arguments.file), arguments.nominal)
    if arguments.json:
        screen.json(check)
    else:
        _show(screen, check)
    return DONE if check.within else REFUSED


def _masses(file: str) -> list[Decimal]:
    try:
        text = sys.stdin.read() if file == "-" else Path(file).read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise InvalidInputError(f"{file} cannot be read: {error}.") from error
    masses = []
    for number, line in enumerate(text.splitlines(), 1):
        for word in line.partition("#")[0].split():
            try:
                masses.append(Decimal(word))
            except InvalidOperation as error:
                raise InvalidInputError(
                    f"{file}, line {number}: {word!r} is not a mass in grams."
                ) from error
    return masses


def _show(screen: Screen, check: PackCheck) -> None:
    permille = check.below_t1 * 1000 // check.packs
    screen.facts(
        [
            ("Packs", str(check.packs)),
            ("Nominal", _grams(check.nominal_mg)),
            ("Tolerable error", _grams(check.tolerable_error_mg)),
            ("T1", _grams(check.t1_mg)),
            ("T2", _grams(check.t2_mg)),
            ("Least", _grams(check.least_mg)),
        ]
    )
    screen.line()
    rows = [
        ("mean not below nominal", _grams(check.mean_mg), _word(holds=check.mean_within)),
        (
            "at most 2.5 % below T1",
            f"{check.below_t1} of {check.packs} ({permille // 10}.{permille % 10} %)",
            _word(holds=check.t1_within),
        ),
        ("none below T2", str(check.below_t2), _word(holds=check.t2_within)),
    ]
    screen.table("Rules", ("Rule", ">Found", "By arithmetic"), rows)
    holds = "all three rules hold" if check.within else "not all three rules hold"
    screen.line(f"For these {check.packs} packs {holds}, by arithmetic. {check.basis}.")
    screen.line(check.catch_weight)
    screen.line(check.safety)


def _word(*, holds: bool) -> str:
    return "holds" if holds else "DOES NOT HOLD"


def _grams(mass_mg: int) -> str:
    sign = "-" if mass_mg < 0 else ""
    whole, rest = divmod(abs(mass_mg), 1000)
    return f"{sign}{whole}.{rest:03d} g"
