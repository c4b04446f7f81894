"""``rindline readings``: a logger's file into the record, and a logger's outbox."""

import sys
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct

from rindline.cli._exits import DONE, NOT_ANSWERED, REFUSED
from rindline.cli._figures import duration, local_time, plain_figure, words
from rindline.cli._screen import Screen
from rindline.client import Client
from rindline.errors import InvalidInputError
from rindline.logger_files import BadRow, FileMapping, FileRead, GoodRow, decode_file, read_file
from rindline.outbox import ReadingOutbox, ReadingOutboxStatus
from rindline_schema.answers import Doubt, Reading
from rindline_schema.problems import Problem

__all__ = ["handle_readings"]

# So many rows are shown as they were understood, and so many that were not.
_FIRST = 10
_BAD_SHOWN = 20


class _RefusedRow(Struct, frozen=True):
    line: int
    problem: Problem


class _Imported(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What ``--json`` prints; without ``recorded`` nothing was told."""

    rows: int
    understood: int
    bad: list[BadRow]
    recorded: int | None = None
    repeated: int | None = None
    refused: list[_RefusedRow] = []
    doubts: list[Doubt] = []
    first: list[Reading] = []


def handle_readings(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Do what was asked; REFUSED if a row was not understood or a reading not taken."""
    if arguments.action == "import":
        return _import(client, screen, arguments)
    path = Path(arguments.file)
    if not path.is_file():
        # Opening it would make it, and a mistyped name would look like an empty outbox.
        raise InvalidInputError(f"There is no outbox {path}.")
    with ReadingOutbox(path, client, drains=False) as outbox:
        match arguments.action:
            case "send":
                status = outbox.send(deadline_s=arguments.timeout)
                code = _show_status(screen, arguments, outbox, status)
                return NOT_ANSWERED if status.queued else code
            case "retry":
                return _done(screen, arguments, "queued", outbox.resend(), "queued again")
            case "drop":
                return _done(screen, arguments, "dropped", outbox.drop(), "dropped for good")
        return _show_status(screen, arguments, outbox, outbox.status())


# --- a file -----------------------------------------------------------------------------------


def _import(client: Client, screen: Screen, arguments: Namespace) -> int:
    mapping = _mapping(arguments)
    read = read_file(decode_file(_bytes(arguments.file), mapping.encoding), mapping)
    if not read.good and not read.bad:
        raise InvalidInputError(f"{arguments.file} holds no rows.")
    if arguments.dry_run:
        return _show_dry(screen, arguments, read)
    answer = None
    if read.good:
        with screen.progress() as progress:
            task = progress.add_task("Telling", total=len(read.good))
            answer = client.tell_readings(
                (row.reading for row in read.good),
                progress=lambda told: progress.update(task, completed=told),
            )
    imported = _Imported(
        rows=len(read.good) + len(read.bad),
        understood=len(read.good),
        bad=read.bad,
        recorded=answer.recorded if answer else 0,
        repeated=answer.repeated if answer else 0,
        refused=[
            _RefusedRow(read.good[one.index].line, one.problem)
            for one in (answer.refused if answer else [])
        ],
        doubts=answer.doubts if answer else [],
    )
    if arguments.json:
        screen.json(imported)
    else:
        _show_imported(screen, imported)
    return REFUSED if read.bad or imported.refused else DONE


def _mapping(arguments: Namespace) -> FileMapping:
    return FileMapping(
        time=tuple(arguments.time),
        temperature=arguments.temperature,
        humidity=arguments.humidity,
        sensor=arguments.sensor,
        sensor_column=arguments.sensor_column,
        sensors=dict(arguments.sensor_is),
        time_format=arguments.time_format,
        zone=arguments.zone,
        repeated_hour=arguments.repeated_hour,
        decimal_comma=arguments.decimal_comma,
        delimiter=arguments.delimiter,
        encoding=arguments.encoding,
        unit=arguments.unit,
        missing=tuple(arguments.missing),
        skip=arguments.skip,
        header=not arguments.no_header,
    )


def _bytes(file: str) -> bytes:
    try:
        return sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as error:
        raise InvalidInputError(f"{file} cannot be read: {error.strerror}.") from error


def _show_dry(screen: Screen, arguments: Namespace, read: FileRead) -> int:
    first = read.good[:_FIRST]
    if arguments.json:
        screen.json(
            _Imported(
                rows=len(read.good) + len(read.bad),
                understood=len(read.good),
                bad=read.bad,
                first=[row.reading for row in first],
            )
        )
    else:
        screen.table("The first rows as understood", _COLUMNS, _rows(first), none="none")
        _show_bad(screen, read.bad)
        screen.line(f"{len(read.good)} rows understood, {len(read.bad)} not; nothing was told")
    return REFUSED if read.bad else DONE


_COLUMNS = (">Line", "Sensor", "Time", ">°C", ">% RH")


def _rows(rows: Sequence[GoodRow]) -> list[tuple[str, ...]]:
    return [
        (
            str(row.line),
            row.reading.sensor,
            # With the offset it will be told with, so that a wrong zone is seen.
            row.reading.at.isoformat(" ", "seconds"),
            plain_figure(row.reading.temperature_c, 3),
            plain_figure(row.reading.humidity_pct, 3),
        )
        for row in rows
    ]


def _show_bad(screen: Screen, bad: Sequence[BadRow]) -> None:
    rows = [(str(row.line), row.why, row.text[:80]) for row in bad[:_BAD_SHOWN]]
    screen.table("Rows that are no readings", (">Line", "Why", "Text"), rows)
    if len(bad) > len(rows):
        screen.line(f"and {len(bad) - len(rows)} more; --json lists all")


def _show_imported(screen: Screen, imported: _Imported) -> None:
    _show_bad(screen, imported.bad)
    rows = [
        (str(one.line), one.problem.code, f"{one.problem.detail} {one.problem.what_to_do}")
        for one in imported.refused[:_BAD_SHOWN]
    ]
    screen.table("Refused", (">Line", "Problem", "What to know"), rows)
    if len(imported.refused) > len(rows):
        screen.line(f"and {len(imported.refused) - len(rows)} more; --json lists all")
    screen.table(
        "Hard to believe",
        ("Sensor", "What", "From", "Until", "Detail"),
        [
            (
                doubt.sensor,
                words(doubt.kind),
                local_time(doubt.from_at),
                local_time(doubt.until_at),
                doubt.detail,
            )
            for doubt in imported.doubts[:_BAD_SHOWN]
        ],
    )
    screen.line(
        f"{imported.rows} rows: {imported.recorded} recorded, {imported.repeated} recorded "
        f"before, {len(imported.refused)} refused, {len(imported.bad)} not understood"
    )


# --- an outbox --------------------------------------------------------------------------------


def _show_status(
    screen: Screen, arguments: Namespace, outbox: ReadingOutbox, status: ReadingOutboxStatus
) -> int:
    if arguments.json:
        screen.json(status)
        return REFUSED if status.set_aside else DONE
    screen.facts(
        [
            ("Outbox", str(status.outbox)),
            ("Queued", str(status.queued)),
            ("Oldest", duration(status.oldest_age_s)),
            ("Set aside", str(status.set_aside)),
            ("Sending", "yes" if status.draining else "no process sends now"),
            ("Last sent", status.last_sent_at or "never"),
            ("Paused", status.paused or ""),
            ("Last error", status.last_error or ""),
            ("Error at", status.last_error_at or ""),
        ]
    )
    refused = outbox.set_aside() if status.set_aside else []
    rows = [
        (
            one.reading.sensor,
            local_time(one.reading.at),
            plain_figure(one.reading.temperature_c, 3),
            plain_figure(one.reading.humidity_pct, 3),
            f"{one.problem.code}: {one.problem.detail} {one.problem.what_to_do}",
        )
        for one in refused[:_BAD_SHOWN]
    ]
    screen.table("Set aside", ("Sensor", "Time", ">°C", ">% RH", "Why"), rows)
    if len(refused) > len(rows):
        screen.line(f"and {len(refused) - len(rows)} more")
    return REFUSED if status.set_aside else DONE


def _done(screen: Screen, arguments: Namespace, name: str, count: int, said: str) -> int:
    if arguments.json:
        screen.json({name: count})
    else:
        screen.line(f"{count} {said}")
    return DONE
