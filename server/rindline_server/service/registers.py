"""The registers as they are read: their newest versions, by code."""

from uuid import UUID

from rindline_schema.answers import RegisteredEntry, RegisterPage
from rindline_schema.params import RegisterParams
from rindline_schema.registers import RegisterName
from rindline_server.ledger.times import from_us
from rindline_server.ledger.world import Version
from rindline_server.service.cursors import read_cursor, write_cursor
from rindline_server.service.problems import no_such_thing
from rindline_server.store import ReadTransaction

__all__ = ["register_entry", "register_page"]


def _entry(code: str, version: Version) -> RegisteredEntry:
    return RegisteredEntry(
        code=code,
        entry=version.entry,
        since=from_us(version.at_us),
        event_id=UUID(version.event),
    )


def register_page(
    snap: ReadTransaction, name: RegisterName, params: RegisterParams
) -> RegisterPage:
    """List a register in order of codes."""
    after = read_cursor(params.cursor) or ""
    entries = sorted(
        (
            (code, versions[-1])
            for (register, code), versions in snap.registers.items()
            if register == name and code > after
        ),
        key=lambda item: item[0],
    )
    page = entries[: params.limit]
    return RegisterPage(
        entries=[_entry(code, version) for code, version in page],
        as_of=snap.as_of,
        next_cursor=write_cursor(page[-1][0]) if len(entries) > params.limit else None,
    )


def register_entry(snap: ReadTransaction, name: RegisterName, code: str) -> RegisteredEntry:
    """Give one entry in its newest version."""
    versions = snap.registers.get((name, code))
    if not versions:
        raise no_such_thing(f"{name} {code!r}")
    return _entry(code, versions[-1])
