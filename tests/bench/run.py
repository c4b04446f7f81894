"""One run of the bench: databases filled, servers started, parts measured, all cleared away."""

import tempfile
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path
from time import perf_counter

from tests.bench.air_parts import AirLoad, measure_air
from tests.bench.air_records import two_air_records
from tests.bench.bare import BareInserts
from tests.bench.bare_air import BareReadings
from tests.bench.callers import Callers
from tests.bench.parts import Load, Side, measure, needs
from tests.bench.records import Maker, makers, two_records
from tests.bench.report import DatabaseReport, PartsReport
from tests.bench.serving import serving

__all__ = ["LotsWork", "run"]

Say = Callable[[str], None]

LotsWork = tuple[tuple[int, int], Load]
"""How many lots the small record has and the large one, and what each round does."""


def run(
    databases: tuple[str, ...], lots: LotsWork | None, air: AirLoad | None, say: Say
) -> tuple[dict[str, DatabaseReport], float]:
    """Measure on each sort of database; gives the reports and the seconds it took in all.

    What is None is left out. ``say`` is told of progress.
    """
    began = perf_counter()
    reports: dict[str, DatabaseReport] = {}
    with (
        tempfile.TemporaryDirectory(prefix="rindline-bench-") as folder,
        makers(Path(folder), databases) as all_makers,
        Callers() as callers,
    ):
        for maker in all_makers:

            def say_it(text: str, dialect: str = maker.dialect) -> None:
                say(f"{dialect}: {text}")

            with closing(BareInserts(maker.fresh())) as inserts:
                found = []
                if lots is not None:
                    found.append(_lots(maker, lots, inserts, callers, Path(folder), say_it))
                if air is not None:
                    found.append(_air(maker, air, callers, Path(folder), say_it))
                reports[maker.dialect] = DatabaseReport(inserts.commit_s(), found)
    return reports, perf_counter() - began


def _lots(
    maker: Maker,
    lots: LotsWork,
    inserts: BareInserts,
    callers: Callers,
    folder: Path,
    say: Say,
) -> PartsReport:
    sizes, load = lots
    began = perf_counter()
    say(f"filling records of {sizes[0]:,} and {sizes[1]:,} lots")
    records = two_records(maker, sizes, needs(load), say)
    filled_s = perf_counter() - began
    say(f"filled in {filled_s:.0f} s; measuring")
    with ExitStack() as stack:
        small, large = (
            Side(record, stack.enter_context(serving(record.url, folder / f"{name}.log")))
            for name, record in zip(("small", "large"), records, strict=True)
        )
        parts = measure((small, large), inserts, callers, load)
    return PartsReport("lots", (records[0].lots, records[1].lots), filled_s, parts)


def _air(maker: Maker, load: AirLoad, callers: Callers, folder: Path, say: Say) -> PartsReport:
    began = perf_counter()
    say(f"filling records of the air of {load.weeks} weeks")
    records = two_air_records(maker, load.weeks, say)
    filled_s = perf_counter() - began
    say(f"filled in {filled_s:.0f} s; measuring")
    with closing(BareReadings(maker.fresh())) as rows:
        parts = measure_air(records, rows, callers, load, folder)
    return PartsReport("readings", (records[0].readings, records[1].readings), filled_s, parts)
