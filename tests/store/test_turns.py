"""Turns of threads that would write: handed on in the order they came, and never lost."""

import threading
from collections.abc import Callable

import pytest

from rindline_server.store import Store, StoreBusyError
from rindline_server.store.turns import Turns

_WAIT_S = 60.0
_TIMES = 10_000


def _until(true: Callable[[], bool]) -> None:
    pause = threading.Event()
    for _ in range(_TIMES):
        if true():
            return
        pause.wait(0.002)
    raise AssertionError("what was waited for did not happen")


def test_turns_go_by_who_came_first() -> None:
    """Also against one who asks again the moment it has ended its turn."""
    turns, order = Turns(), list[int]()
    assert turns.take(0)

    def wait(number: int) -> None:
        assert turns.take(_WAIT_S)
        order.append(number)
        turns.end()

    threads = []
    for number in range(8):
        threads.append(threading.Thread(target=wait, args=(number,)))
        threads[-1].start()
        _until(lambda: len(turns._waiting) == len(threads))
    turns.end()
    assert turns.take(_WAIT_S)
    order.append(99)
    turns.end()
    for thread in threads:
        thread.join(_WAIT_S)
    assert order == [*range(8), 99]


def test_a_turn_that_does_not_come_is_given_up() -> None:
    """Whoever gave up is passed over: the next in line gets the turn, and the last leaves it
    free."""
    turns = Turns()
    assert turns.take(0)
    assert not turns.take(0)
    assert not turns.take(0.001)
    turns.end()
    assert turns.take(0)
    turns.end()


def test_a_store_says_busy_while_a_thread_writes_for_too_long(database_url: str) -> None:
    """No thread waits for ever; a transaction that failed has ended its turn."""
    store = Store(database_url, wait_s=0.05)
    with store.writing(), pytest.raises(StoreBusyError), store.writing():
        pass
    with pytest.raises(ZeroDivisionError), store.writing():
        raise ZeroDivisionError
    with store.writing() as tx:
        assert tx.as_of == 0
    store.close()
