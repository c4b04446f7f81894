"""Register entries as rows; all of them are kept in memory between events that change them."""

from typing import Any

import msgspec

from rindline_schema.registers import RegisterEntry
from rindline_server.ledger.world import Registers, Version
from rindline_server.store.ids import id_bytes, id_text
from rindline_server.store.link import Link

__all__ = ["RegisterShelf", "version_row"]

_ENCODER = msgspec.json.Encoder()
_ENTRY: msgspec.json.Decoder[RegisterEntry] = msgspec.json.Decoder(RegisterEntry)


def version_row(register: str, code: str, version: Version, seq: int) -> list[Any]:
    """Make the row of a version in force from ``seq`` on; the sixth value is ``void_seq``."""
    return [
        register,
        code,
        id_bytes(version.event),
        version.at_us,
        seq,
        None,
        _ENCODER.encode(version.entry),
    ]


class RegisterShelf:
    """The registers as last read. Threads may share it."""

    def __init__(self) -> None:
        """Begin with nothing read."""
        # One value, replaced whole: a reader sees either the old or the new.
        self._kept: tuple[int, Registers] | None = None

    def kept(self, register_seq: int) -> Registers | None:
        """Give the registers as last changed at a ``seq``, if they are what was read last."""
        kept = self._kept
        return kept[1] if kept is not None and kept[0] == register_seq else None

    def get(self, link: Link, register_seq: int) -> Registers:
        """Give the registers as a snapshot has them that says they last changed at a ``seq``."""
        found = self.kept(register_seq)
        if found is not None:
            return found
        kept, registers = self._kept, _read(link)
        if kept is None or kept[0] < register_seq:
            self._kept = (register_seq, registers)
        return registers


def _read(link: Link) -> Registers:
    rows = link.rows(
        "SELECT register, code, at_us, event, entry FROM register_versions "
        "WHERE void_seq IS NULL ORDER BY at_us, event"
    )
    found: dict[tuple[str, str], tuple[Version, ...]] = {}
    for register, code, at_us, event, entry in rows:
        version = Version(at_us, id_text(event), _ENTRY.decode(entry))
        found[register, code] = (*found.get((register, code), ()), version)
    return found
