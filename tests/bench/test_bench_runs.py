"""That the bench itself works. What it measures is never judged here: machines differ."""

import json
from typing import Any

import msgspec
import pytest

from tests.bench.air_parts import AirLoad
from tests.bench.parts import Load
from tests.bench.report import as_json, machine_facts, print_tables
from tests.bench.run import run

_TINY_AIR = AirLoad(rounds=1, weeks=1, readings=4_000, asked=2)
_TINY = Load(rounds=1, batches=1, single_events=32, look_ups=32, traces=1)


@pytest.mark.slow
@pytest.mark.parametrize(
    "database", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]
)
def test_the_bench_measures_every_part(database: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A tiny run fills records, serves them, and gives each ratio, growth and peak of memory."""
    reports, took_s = run((database,), ((700, 1_400), _TINY), _TINY_AIR, lambda _: None)
    print_tables(reports, machine_facts())
    shown = capsys.readouterr().out
    told: dict[str, Any] = json.loads(msgspec.json.encode(as_json(reports, {}, took_s)))
    found = told["databases"][database]
    parts = [*found["lots"]["parts"], *found["readings"]["parts"]]
    assert len(parts) == 4 + 3
    for part in parts:
        figures = [value for value in part.values() if not isinstance(value, str)]
        flat = [x for value in figures for x in (value if isinstance(value, list) else [value])]
        assert len(flat) == 9
        assert min(flat) > 0
        assert part["name"] in shown
