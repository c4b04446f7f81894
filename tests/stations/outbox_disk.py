"""A disk whose power may be cut, or that is full: a layer under SQLite that sees every write.

The recording notes each write, truncation, sync, new name and deleted name in order. A cut at any
place keeps what was synced; of what was not, each sector is kept, lost or spoilt by chance, and
new and deleted names reach the folder in order up to a place drawn by chance. So does a disk with
a cache of its own; a killed process shows nothing of it, as the system still writes all.
"""

import random
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw

__all__ = ["Disk", "Op"]

_SECTOR = 512
_CHECKPOINT_PAGES = 20
_RUNS = 0


@dataclass(frozen=True, slots=True)
class Op:
    """One thing that happened: ``file`` tells apart files that had the same name in turn."""

    kind: str
    file: int = 0
    name: str = ""
    offset: int = 0
    data: bytes = b""
    mark: Any = None


@dataclass
class Disk:
    """Files under SQLite. ``full_at``: that write, counted from 1, and all after it fail."""

    ops: list[Op] = field(default_factory=list)
    full_at: int | None = None
    writes: int = 0

    def __post_init__(self) -> None:
        global _RUNS  # noqa: PLW0603 - SQLite wants a name for each layer
        _RUNS += 1
        self.name = f"recorded-{_RUNS}"
        self.files: dict[str, int] = {}
        self.last_file = 0
        self._layer = _Layer(self)

    def connect(self, path: Path) -> "_Connection":
        """Open a file on this disk, for an outbox; it checkpoints often."""
        try:
            return _Connection(apsw.Connection(str(path), vfs=self.name))
        except apsw.Error as error:
            raise _as_sqlite3(error) from error

    def mark(self, mark: Any) -> None:
        """Note that something is promised from here on."""
        self.ops.append(Op("mark", mark=mark))

    def count_write(self) -> None:
        """Count a write, and refuse it if the disk is full."""
        self.writes += 1
        if self.full_at is not None and self.writes >= self.full_at:
            raise apsw.FullError("the disk is full, as the test says")

    def cut(self, at: int, folder: Path, chance: random.Random) -> list[Any]:
        """Write to ``folder`` what a power cut after ``at`` ops leaves; gives the marks so far."""
        ops = self.ops[:at]
        for name, file in _names_after(ops, chance).items():
            if not name.endswith("-shm"):
                content = _content_after([op for op in ops if op.file == file], chance)
                (folder / name).write_bytes(content)
        return [op.mark for op in ops if op.kind == "mark"]


def _names_after(ops: Sequence[Op], chance: random.Random) -> dict[str, int]:
    changes = [(i, op) for i, op in enumerate(ops) if op.kind in ("create", "delete")]
    # The first sync of a new file syncs its folder, here as in SQLite for its journals.
    synced = max((i for i, op in enumerate(ops) if op.kind in ("sync", "sync_folder")), default=-1)
    sure = sum(i < synced for i, _ in changes)
    names: dict[str, int] = {}
    for _, op in changes[: chance.randint(sure, len(changes))]:
        if op.kind == "create":
            names[op.name] = op.file
        else:
            names.pop(op.name, None)
    return names


def _content_after(ops: Sequence[Op], chance: random.Random) -> bytes:
    synced = max((i for i, op in enumerate(ops) if op.kind == "sync"), default=-1)
    content = bytearray()
    for i, op in enumerate(ops):
        if op.kind == "truncate":
            if i < synced or chance.random() < 0.5:
                del content[op.offset :]
        elif op.kind == "write":
            for start in range(0, len(op.data), _SECTOR):
                sector = op.data[start : start + _SECTOR]
                fate = 1.0 if i < synced else chance.random()
                if fate < 0.4:
                    continue
                if fate < 0.5:
                    sector = chance.randbytes(len(sector))
                place = op.offset + start
                if place > len(content):
                    content.extend(bytes(place - len(content)))
                content[place : place + len(sector)] = sector
    return bytes(content)


class _Layer(apsw.VFS):
    def __init__(self, disk: Disk) -> None:
        super().__init__(disk.name, "")
        self._disk = disk

    def xOpen(self, name: Any, flags: Any) -> Any:  # noqa: N802 - the library's name
        path = Path(name.filename() if isinstance(name, apsw.URIFilename) else name)
        fresh = path.name not in self._disk.files
        opened = _File(self._disk, path.name, name, flags)
        if fresh:
            self._disk.last_file += 1
            self._disk.files[path.name] = self._disk.last_file
            self._disk.ops.append(Op("create", self._disk.last_file, path.name))
        opened.number = self._disk.files[path.name]
        return opened

    def xDelete(self, name: str, sync_folder: bool) -> None:  # noqa: N802 - as above
        super().xDelete(name, sync_folder)
        short = Path(name).name
        number = self._disk.files.pop(short, 0)
        self._disk.ops.append(Op("delete", number, short))
        if sync_folder:
            self._disk.ops.append(Op("sync_folder"))


class _File(apsw.VFSFile):
    number = 0

    def __init__(self, disk: Disk, short: str, name: Any, flags: Any) -> None:
        super().__init__("", name, flags)
        self._disk = disk
        self._short = short

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802 - the library's name
        self._disk.count_write()
        super().xWrite(data, offset)
        self._disk.ops.append(Op("write", self.number, offset=offset, data=bytes(data)))

    def xTruncate(self, size: int) -> None:  # noqa: N802 - as above
        super().xTruncate(size)
        self._disk.ops.append(Op("truncate", self.number, offset=size))

    def xSync(self, flags: int) -> None:  # noqa: N802 - as above
        super().xSync(flags)
        self._disk.ops.append(Op("sync", self.number))


class _Cursor:
    def __init__(self, rows: list[tuple[Any, ...]]) -> None:
        self._rows = rows

    def fetchall(self) -> list[tuple[Any, ...]]:
        return self._rows


class _Connection:
    """The library's connection as the outbox wants it: sqlite3's errors, rows at once.

    It checkpoints after commits, as SQLite does by itself, only sooner; and like SQLite it passes
    over a checkpoint that fails, which the library would make an error of the commit.
    """

    def __init__(self, connection: apsw.Connection) -> None:
        self._connection = connection
        self._pages = 0
        connection.set_wal_hook(self._committed)

    def execute(self, sql: str, parameters: Sequence[Any] = (), /) -> _Cursor:
        try:
            rows = list(self._connection.execute(sql, tuple(parameters)))
        except apsw.Error as error:
            raise _as_sqlite3(error) from error
        if self._pages > _CHECKPOINT_PAGES:
            with suppress(apsw.Error):
                self._connection.wal_checkpoint()
                self._pages = 0
        return _Cursor(rows)

    def _committed(self, _connection: apsw.Connection, _name: str, pages: int) -> int:
        self._pages = pages
        return apsw.SQLITE_OK

    def close(self) -> None:
        try:
            self._connection.close()
        except apsw.Error as error:
            raise _as_sqlite3(error) from error


def _as_sqlite3(error: apsw.Error) -> sqlite3.OperationalError:
    twin = sqlite3.OperationalError(str(error))
    # One raised by this layer carries no code of its own.
    twin.sqlite_errorcode = getattr(error, "result", sqlite3.SQLITE_FULL)
    return twin


Connect = Callable[[Path], _Connection]
