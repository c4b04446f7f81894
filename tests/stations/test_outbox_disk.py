"""The outbox's file when the power goes, and when the disk is full."""

import random
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import msgspec
import pytest

from rindline import DiskFullError, OutboxError
from rindline._core import Sender
from rindline.outbox._core import Core
from rindline.outbox._delivery import Send
from rindline.testing import FakeClock, FakeServer
from rindline_schema.codes import lot_code_prefix, split_lot_code
from rindline_schema.events import Event
from tests.stations.outbox_disk import Disk
from tests.stations.outbox_parts import weighing, weighings

_CUTS = 200


@dataclass(frozen=True)
class _Kept:
    """The outbox said that this event is on disk."""

    event: Event
    number: int


@dataclass(frozen=True)
class _Stamped:
    """The outbox gave out this code."""

    code: str


def _core(
    path: Path, disk: Disk, synchronous: str = "FULL", clock: FakeClock | None = None
) -> Core:
    clock = clock or FakeClock()
    return Core(path, clock=clock, policy=None, connect=disk.connect, synchronous=synchronous)


def _drain(core: Core, server: FakeServer) -> None:
    steps = core.steps()
    step = next(steps)
    while isinstance(step, Send):
        step = steps.send(server.send(Sender(None).signed(step.call), 1.0))


def _work(path: Path, disk: Disk, synchronous: str) -> None:
    """A station's day: told one by one and in heaps, stamped, sent, stopped, started again."""
    clock = FakeClock()
    server = FakeServer(clock=clock)
    for day in range(3):
        core = _core(path, disk, synchronous, clock)
        core.blocks.want("wheel", None, 40, 1)
        _drain(core, server)
        for turn in range(12):
            events = weighings(1 if turn % 4 else 12, core.clock)
            named = [msgspec.structs.replace(event, note=f"{day}.{turn}") for event in events]
            for event, queued in zip(named, core.queue.keep(named), strict=True):
                disk.mark(_Kept(event, queued.number))
            disk.mark(_Stamped(core.blocks.stamp("wheel", None, None)))
            if turn == 7:
                _drain(core, server)
        core.file.close()


def _lost_after_cut(path: Path, promised: list[object]) -> int:
    """Count what was promised and is not there; anything wrong besides fails at once."""
    if not path.exists():
        return len(promised)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    core = Core(path, clock=FakeClock(), policy=None)
    found = {one.id: one for one in core.queue.entries("queued", "recorded", "set_aside")}
    # No gap, and nothing but what was told.
    assert sorted(one.number for one in found.values()) == list(range(1, len(found) + 1))
    blocks = core.file.rows("SELECT prefix, stamped_to FROM blocks")
    core.file.close()
    lost = 0
    for one in promised:
        if isinstance(one, _Kept):
            entry = found.get(one.event.id)
            lost += entry is None
            assert entry is None or (entry.event, entry.number) == (one.event, one.number)
        elif isinstance(one, _Stamped):
            prefix, serial = split_lot_code(one.code)
            lost += not any(block == prefix and serial <= upto for block, upto in blocks)
    return lost


def _cuts(tmp_path: Path, synchronous: str) -> list[int]:
    """Cut the power at many places; gives for each cut how much of what was promised is lost."""
    disk = Disk()
    (tmp_path / "work").mkdir()
    _work(tmp_path / "work" / "outbox.db", disk, synchronous)
    chance = random.Random(20260203)
    lost = []
    for number in range(_CUTS):
        folder = tmp_path / f"cut-{number}"
        folder.mkdir()
        promised = disk.cut(chance.randint(0, len(disk.ops)), folder, chance)
        lost.append(_lost_after_cut(folder / "outbox.db", promised))
    return lost


@pytest.mark.slow
def test_a_power_cut_loses_nothing_that_was_promised(tmp_path: Path) -> None:
    """200 cuts with unsynced sectors torn: all events and codes are there."""
    assert _cuts(tmp_path, "FULL") == [0] * _CUTS


@pytest.mark.slow
def test_without_a_sync_at_each_commit_a_power_cut_loses_rows(tmp_path: Path) -> None:
    """The same cuts with ``synchronous=NORMAL``: sound files, but promises broken. So the test
    above can fail.
    """
    lost = _cuts(tmp_path, "NORMAL")
    assert sum(one > 0 for one in lost) > _CUTS // 4


def test_a_full_disk_is_said_before_telling_returns(tmp_path: Path) -> None:
    """The disk is full from each write on in turn: a typed error, and nothing promised is gone."""
    refused = 0
    at = 0
    while True:
        at += 1
        disk = Disk()
        path = tmp_path / f"full-{at}" / "outbox.db"
        path.parent.mkdir()
        core = _core(path, disk)
        before = disk.writes
        disk.full_at = before + at
        told, errors = [], 0
        for turn in range(6):
            event = weighing(str(turn), core.clock)
            try:
                core.queue.keep([event])
            except DiskFullError:
                errors += 1
            else:
                told.append(event)
        assert len(told) + errors == 6
        disk.full_at = None
        # There is room again: the same outbox goes on, and numbers have no gap.
        last = weighing("last", core.clock)
        core.queue.keep([last])
        core.file.close()
        again = Core(path, clock=FakeClock(), policy=None)
        entries = again.queue.entries("queued")
        again.file.close()
        assert [one.event for one in entries] == [*told, last]
        assert [one.number for one in entries] == list(range(1, len(entries) + 1))
        refused += errors
        if not errors:
            break
    # Each of the six told events writes several times, so that every step of a commit was hit.
    assert at > 6 * 3
    assert refused > at


def test_a_full_disk_is_said_to_every_thread(tmp_path: Path) -> None:
    """Threads that share a sync share its failure: none takes its event for told that is not."""
    disk = Disk()
    core = _core(tmp_path / "outbox.db", disk)
    disk.full_at = disk.writes + 60
    told: list[Event] = []
    errors: list[Exception] = []

    def tell(name: int) -> None:
        for turn in range(10):
            event = weighing(f"{name}-{turn}")
            try:
                core.queue.keep([event])
            except DiskFullError as error:
                errors.append(error)
            else:
                told.append(event)

    threads = [threading.Thread(target=tell, args=(name,)) for name in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    kept = {entry.event.note for entry in core.queue.entries("queued")}
    disk.full_at = None
    core.file.close()
    assert len(told) + len(errors) == 80
    assert told
    assert errors
    assert len(set(map(id, errors))) == len(errors)
    assert kept == {event.note for event in told}


def test_a_full_disk_gives_out_no_code(tmp_path: Path) -> None:
    """A code that cannot be marked as stamped is not given out; the next one is not another's."""
    disk = Disk()
    path = tmp_path / "outbox.db"
    core = _core(path, disk)
    core.blocks.want("wheel", None, 10, 1)
    _drain(core, FakeServer(clock=FakeClock()))
    first = core.blocks.stamp("wheel", None, None)
    disk.full_at = disk.writes + 1
    with pytest.raises(DiskFullError):
        core.blocks.stamp("wheel", None, None)
    disk.full_at = None
    second = core.blocks.stamp("wheel", None, None)
    core.file.close()
    assert first != second
    assert split_lot_code(first)[0] == lot_code_prefix("QM", FakeClock().now().date(), "wheel")


def test_no_room_for_the_file_at_all_is_a_typed_error(tmp_path: Path) -> None:
    """The disk is full while the file is made: the same error as later."""
    disk = Disk(full_at=1)
    with pytest.raises(DiskFullError, match=r"outbox\.db"):
        _core(tmp_path / "outbox.db", disk)


_LIMITED = """
import resource, sys
from rindline import OutboxError
from rindline.outbox import Outbox
outbox = Outbox(sys.argv[1])
soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, hard))
told = 0
try:
    while told < 10_000:
        outbox.clean(method="hot water", tool="VAT-1", note=str(told))
        told += 1
except OutboxError as error:
    print(type(error).__name__)
resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
outbox.clean(method="hot water", tool="VAT-1", note=str(told))
print(*[entry.event.note for entry in outbox.entries()] == [str(n) for n in range(told + 1)], told)
""".replace("print(*[", "print([")


def test_a_limit_of_the_system_itself_is_a_typed_error(tmp_path: Path) -> None:
    """Python's own SQLite against a real limit (the system's on a file's size): the event that does
    not fit is refused, those before are there, and it can be told once there is room.
    """
    if sys.platform == "win32":
        pytest.skip("the system has no such limit")
    path = tmp_path / "outbox.db"
    ran = subprocess.run(
        [sys.executable, "-c", _LIMITED, str(path)], check=True, capture_output=True, text=True
    )
    error, whole = ran.stdout.splitlines()
    assert issubclass(
        {"OutboxError": OutboxError, "DiskFullError": DiskFullError}[error], OutboxError
    )
    assert whole.split()[0] == "True"
    assert int(whole.split()[1]) > 5
