"""One run of the bench: databases filled, servers started, parts measured, all cleared away."""

import tempfile
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path
from time import perf_counter

from tests.bench.bare import BareInserts
from tests.bench.callers import Callers
from tests.bench.parts import Load, Side, measure, needs
from tests.bench.records import Maker, makers, two_records
from tests.bench.report import DatabaseReport
from tests.bench.serving import serving

__all__ = ["run"]


def run(
    databases: tuple[str, ...], lots: tuple[int, int], load: Load, say: Callable[[str], None]
) -> tuple[dict[str, DatabaseReport], float]:
    """Measure on each sort of database; gives the reports and the seconds it took in all.

    ``lots``: how many the small record has, and the large one. ``say`` is told of progress.
    """
    began = perf_counter()
    reports: dict[str, DatabaseReport] = {}
    with (
        tempfile.TemporaryDirectory(prefix="rindline-bench-") as folder,
        makers(Path(folder), databases) as all_makers,
        Callers() as callers,
    ):
        for maker in all_makers:
            reports[maker.dialect] = _on(maker, lots, load, callers, Path(folder), say)
    return reports, perf_counter() - began


def _on(
    maker: Maker,
    lots: tuple[int, int],
    load: Load,
    callers: Callers,
    folder: Path,
    say: Callable[[str], None],
) -> DatabaseReport:
    began = perf_counter()
    say(f"{maker.dialect}: filling records of {lots[0]:,} and {lots[1]:,} lots")
    records = two_records(maker, lots, needs(load), lambda text: say(f"{maker.dialect}: {text}"))
    filled_s = perf_counter() - began
    say(f"{maker.dialect}: filled in {filled_s:.0f} s; measuring")
    with ExitStack() as stack:
        small, large = (
            Side(record, stack.enter_context(serving(record.url, folder / f"{name}.log")))
            for name, record in zip(("small", "large"), records, strict=True)
        )
        inserts = stack.enter_context(closing(BareInserts(maker.fresh())))
        commit_s = inserts.commit_s()
        parts = measure((small, large), inserts, callers, load)
    return DatabaseReport((records[0].lots, records[1].lots), filled_s, commit_s, parts)
