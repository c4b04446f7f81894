"""Register entries kept in a file, so that labels can be made with no network."""

import os
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Protocol, TypeVar

import msgspec

from rindline._clock import Clock, RealClock
from rindline.labels._errors import LabelError
from rindline_schema.answers import RegisteredEntry
from rindline_schema.registers import Partner, Product, RegisterEntry, RegisterName, Site

__all__ = ["RegisterCache", "default_cache_file"]

T = TypeVar("T", Site, Product, Partner)

_KEPT: tuple[RegisterName, ...] = ("site", "product", "partner")


class _Kept(msgspec.Struct, kw_only=True, frozen=True):
    """What the file holds."""

    fetched_at: datetime
    entries: list[RegisterEntry]


class HasRegisters(Protocol):
    """A client, as far as it is needed here."""

    def register(self, register: RegisterName) -> Iterator[RegisteredEntry]:
        """Give the entries of a register."""
        ...


def default_cache_file() -> Path:
    """Give where the registers are kept: ``$XDG_CACHE_HOME/rindline/registers.json``."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "rindline" / "registers.json"


class RegisterCache:
    """The sites, products and partners as they stood when they were last fetched.

    A label made from it says what the entries said then: fetch anew after each declaration.
    """

    def __init__(self, file: Path | None = None, *, clock: Clock | None = None) -> None:
        """``file`` is made by :meth:`fetch`; the default one if left out."""
        self.file = file or default_cache_file()
        self._clock = clock or RealClock()
        self._kept: _Kept | None = None

    def fetch(self, client: HasRegisters) -> int:
        """Fetch the registers and put them in the file at one stroke; gives how many entries."""
        entries = [kept.entry for name in _KEPT for kept in client.register(name)]
        kept = _Kept(fetched_at=self._clock.now(), entries=entries)
        aside = self.file.with_name(f"{self.file.name}.{os.getpid()}")
        try:
            self.file.parent.mkdir(parents=True, exist_ok=True)
            with aside.open("wb") as out:
                out.write(msgspec.json.encode(kept))
                out.flush()
                # Or a power cut could leave an empty file in place of the last good one.
                os.fsync(out.fileno())
            aside.replace(self.file)
        except OSError as error:
            aside.unlink(missing_ok=True)
            raise LabelError(f"{self.file} cannot be written: {error}.") from error
        self._kept = kept
        return len(entries)

    @property
    def fetched_at(self) -> datetime | None:
        """When the file was fetched, or None if there is none yet."""
        return self._read().fetched_at if self._kept or self.file.exists() else None

    def site(self, code: str) -> Site:
        """Give a site; raises :class:`LabelError` if it is not in the file."""
        return self._find(Site, code)

    def product(self, code: str) -> Product:
        """Give a product; raises :class:`LabelError` if it is not in the file."""
        return self._find(Product, code)

    def partner(self, code: str) -> Partner:
        """Give a partner; raises :class:`LabelError` if it is not in the file."""
        return self._find(Partner, code)

    def _find(self, kind: type[T], code: str) -> T:
        for entry in self._read().entries:
            if isinstance(entry, kind) and entry.code == code:
                return entry
        raise LabelError(
            f"There is no {kind.__name__.lower()} {code!r} in {self.file}: fetch the registers "
            "anew (rindline registers)."
        )

    def _read(self) -> _Kept:
        if self._kept is None:
            try:
                self._kept = msgspec.json.decode(self.file.read_bytes(), type=_Kept)
            except FileNotFoundError as error:
                raise LabelError(
                    f"No registers are kept in {self.file}: fetch them once with a network "
                    "(rindline registers)."
                ) from error
            except (OSError, msgspec.MsgspecError) as error:
                raise LabelError(f"{self.file} cannot be read: {error}. Fetch it anew.") from error
        return self._kept
