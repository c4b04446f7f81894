"""Looking things up in the registers, as they were at a time."""

from rindline_schema.registers import (
    LotKind,
    Partner,
    Product,
    RegisterEntry,
    Room,
    Site,
    Tool,
)
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.world import Registers

__all__ = ["Lookup", "entry_at"]


def entry_at(registers: Registers, register: str, code: str, at_us: int) -> RegisterEntry | None:
    """Give the entry in force at a time, or its first version if it was declared only later."""
    versions = registers.get((register, code))
    if not versions:
        return None
    current = versions[0]
    for version in versions:
        if version.at_us <= at_us:
            current = version
    return current.entry


class Lookup:
    """The registers as of one time; each question refuses what isn't declared or doesn't fit."""

    def __init__(self, registers: Registers, at_us: int) -> None:
        """Take all register versions and the time asked about, in microseconds since 1970."""
        self._registers = registers
        self._at_us = at_us

    def _entry(self, register: str, code: str) -> RegisterEntry:
        entry = entry_at(self._registers, register, code, self._at_us)
        if entry is None:
            raise refuse("not_declared", f"no {register} {code!r} is declared")
        return entry

    def site(self, code: str) -> Site:
        """Give a site."""
        entry = self._entry("site", code)
        assert isinstance(entry, Site)
        return entry

    def room(self, code: str | None, site: str) -> None:
        """Check that a room, if named, is declared and belongs to the site."""
        if code is None:
            return
        entry = self._entry("room", code)
        assert isinstance(entry, Room)
        if entry.site != site:
            raise refuse("wrong_kind", f"room {code!r} belongs to site {entry.site}, not {site}")

    def tool(self, code: str | None, kind: str | None = None) -> None:
        """Check that a tool, if named, is declared, and of the kind asked for."""
        if code is None:
            return
        entry = self._entry("tool", code)
        assert isinstance(entry, Tool)
        if kind is not None and entry.kind != kind:
            raise refuse("wrong_kind", f"tool {code!r} is not a {kind} but: {entry.kind}")

    def partner(self, code: str | None, role: str) -> None:
        """Check that a partner, if named, is declared in that role."""
        if code is None:
            return
        entry = self._entry("partner", code)
        assert isinstance(entry, Partner)
        if role not in entry.roles:
            raise refuse("wrong_kind", f"partner {code!r} is not declared as {role}")

    def product(self, code: str, *kinds: LotKind) -> Product:
        """Give a product; it must be of one of the kinds."""
        entry = self._entry("product", code)
        assert isinstance(entry, Product)
        if entry.kind not in kinds:
            raise refuse(
                "wrong_kind", f"product {code!r} is {entry.kind}, not {' or '.join(kinds)}"
            )
        return entry
