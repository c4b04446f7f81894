"""The logger's file: the process is killed, the power goes, the disk is full, the network bad."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from rindline import Client, DiskFullError, ReadingOutbox
from rindline.outbox import _reading_drain
from rindline.outbox._file import Layout, OutboxFile
from rindline.testing import FakeClock, FakeServer
from rindline.transport import HttpTransport
from tests.stations.outbox_disk import Disk
from tests.stations.outbox_parts import PATIENT
from tests.stations.outbox_proxy import FAULTS, hostile_proxy
from tests.stations.outbox_server import serving
from tests.stations.reading_parts import minutes, reading, reading_outbox, some_readings

_ROOT = Path(__file__).parents[2]
_KILLS = 12
_CUTS = 60
_SEED = 20260203


def _kept(paper: Path) -> int:
    lines = paper.read_text("ascii").splitlines() if paper.exists() else []
    return int(lines[-1]) if lines else 0


def _killed_while_reading(path: Path, paper: Path, chance: random.Random) -> None:
    """Start the logger, let it keep some readings, kill it at a moment drawn by chance."""
    before = _kept(paper)
    module = "tests.stations.reading_logger"
    command = [sys.executable, "-m", module, str(path), str(paper), str(before)]
    process = subprocess.Popen(command, cwd=_ROOT)
    try:
        while _kept(paper) - before < chance.randint(1, 60):
            assert process.poll() is None
            time.sleep(0.002)
        time.sleep(chance.random() * 0.02)
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="there is no such signal")
def test_a_killed_logger_loses_nothing_that_was_kept(tmp_path: Path) -> None:
    """12 kills: every reading that was on disk by its word arrives, in order, and each once."""
    path, paper = tmp_path / "readings.db", tmp_path / "kept.txt"
    chance = random.Random(_SEED)
    for _ in range(_KILLS):
        _killed_while_reading(path, paper, chance)
    clock = FakeClock()
    server = FakeServer(clock=clock)
    with reading_outbox(path, server, clock) as outbox:
        status = outbox.send(deadline_s=600)
    assert (status.queued, status.set_aside) == (0, 0)
    told = minutes(server)
    assert _kept(paper) >= _KILLS
    assert set(range(_kept(paper))) <= set(told)
    # Told again after a kill is the same reading; a heap in hand at the kill may be there, too.
    assert sorted(told) == list(range(len(told)))


def _cuts(tmp_path: Path, synchronous: str, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Cut the power at many places; gives how many promised readings are lost at each."""
    disk = Disk()
    folder = tmp_path / "work"
    folder.mkdir()

    def opened(path: Path, layout: Layout, **_said: object) -> OutboxFile:
        return OutboxFile(path, layout, connect=disk.connect, synchronous=synchronous)

    with monkeypatch.context() as patch:
        patch.setattr("rindline.outbox._reading_core.OutboxFile", opened)
        for day in range(3):
            with ReadingOutbox(folder / "readings.db", clock=FakeClock()) as outbox:
                for turn in range(12):
                    first = 1000 * day + 20 * turn
                    heap = some_readings(1 if turn % 4 else 12, first)
                    outbox.many(heap)
                    for kept in heap:
                        disk.mark(kept)
    chance = random.Random(_SEED)
    lost = []
    for number in range(_CUTS):
        after = tmp_path / f"cut-{number}"
        after.mkdir()
        promised = disk.cut(chance.randint(0, len(disk.ops)), after, chance)
        lost.append(_lost(after / "readings.db", promised))
    return lost


def _lost(path: Path, promised: list[object]) -> int:
    if not path.exists():
        return len(promised)
    clock = FakeClock()
    server = FakeServer(clock=clock)
    with reading_outbox(path, server, clock) as outbox:
        outbox.send(deadline_s=600)
    return sum(one not in server.readings for one in promised)


@pytest.mark.slow
def test_a_power_cut_loses_no_reading_that_was_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """60 cuts with unsynced sectors torn: all readings are there and sent."""
    assert _cuts(tmp_path, "FULL", monkeypatch) == [0] * _CUTS


@pytest.mark.slow
def test_without_a_sync_a_power_cut_loses_readings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same cuts with ``synchronous=NORMAL``, so that the test above can fail."""
    lost = _cuts(tmp_path, "NORMAL", monkeypatch)
    assert sum(one > 0 for one in lost) > _CUTS // 4


def test_a_full_disk_is_said_and_keeps_what_was_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reading that has no room raises; those before are there, and with room it goes on."""
    disk = Disk()
    monkeypatch.setattr("rindline.outbox._reading_core.open_sqlite", disk.connect)
    path = tmp_path / "readings.db"
    with ReadingOutbox(path, clock=FakeClock()) as outbox:
        outbox.many(some_readings(3))
        disk.full_at = disk.writes + 1
        with pytest.raises(DiskFullError, match="Make room"):
            outbox.many([reading(3)])
        disk.full_at = None
        outbox.many([reading(4)])
    clock = FakeClock()
    server = FakeServer(clock=clock)
    with reading_outbox(path, server, clock) as outbox:
        outbox.send()
    assert minutes(server) == [0, 1, 2, 4]


@pytest.mark.slow
def test_a_bad_network_neither_loses_nor_swaps_readings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """3,000 readings through a proxy that spoils 30 % of the requests: all are there, none is
    refused, and those that a repeated or late request told again are one.
    """
    monkeypatch.setattr(_reading_drain, "_MOST_READINGS", 40)
    with serving() as server, hostile_proxy(server.address, seed=_SEED) as proxy:
        address = "http://{}:{}".format(*proxy.address)
        transport = HttpTransport(address)
        with (
            Client(address, transport=transport) as client,
            ReadingOutbox(tmp_path / "readings.db", client, policy=PATIENT) as outbox,
        ):
            for first in range(0, 3_000, 100):
                outbox.many(some_readings(100, first))
            while outbox.status().queued:
                time.sleep(0.05)
            assert outbox.set_aside() == []
        proxy.close()
        done = proxy.done
        fake: FakeServer = getattr(server, "_fake")  # noqa: B009 - the server's own
    assert sorted(minutes(fake)) == list(range(3_000))
    assert sum(done[fault] > 0 for fault in FAULTS) > 4, done
