"""Rolling up: what is due is worked off in pieces, each in a short transaction of its own.

What is due stands in the database, so a server that is killed goes on when it starts again, and
it doesn't matter which of several servers does it.
"""

import logging
from collections.abc import Callable
from time import perf_counter
from typing import NamedTuple

from rindline_server.calc.air import HOUR_US, AirRule
from rindline_server.service.air.doubts import find_doubts
from rindline_server.service.air.due import mark_all
from rindline_server.service.air.hours import DAY_HOURS, roll_days, roll_hours
from rindline_server.store import Due, ReadTransaction, Store, WriteTransaction

__all__ = ["Roller", "roll_all", "roll_due"]

_LOG = logging.getLogger("rindline.rolling")

_Behind = tuple[str, int] | None

_PIECE_S = 0.04
"""How long a piece should take: whoever would write meanwhile waits for it."""

_MOST_HOURS = 4_096
_HOURS_AT_A_TIME = 14 * 24
"""How many hours are done at once where nobody else can write anyway."""


class _Work(NamedTuple):
    """One of the two things that can be due: how to find it, and how to do some of it.

    ``fewest`` is how many hours at least are done at once, ``first`` how many to begin with.
    """

    find: Callable[[ReadTransaction, _Behind], Due | None]
    do: Callable[[WriteTransaction, Due, AirRule], None]
    fewest: int
    first: int


def _roll_hours(tx: WriteTransaction, due: Due, rule: AirRule) -> None:
    tx.put_air_hours(*due, roll_hours(tx, *due, rule))
    days = due.from_hour // DAY_HOURS, -(-due.until_hour // DAY_HOURS)
    tx.put_air_days(due.of, *days, roll_days(tx, due.of, *days))
    tx.take_due(due)


def _find_doubts(tx: WriteTransaction, due: Due, _rule: AirRule) -> None:
    from_us, until_us = due.from_hour * HOUR_US, due.until_hour * HOUR_US - 1
    tx.put_doubts(due.of, *find_doubts(tx, due.of, from_us, until_us))
    tx.take_doubts_due(due)


_HOURS = _Work(ReadTransaction.next_due_hours, _roll_hours, fewest=1, first=24)
# Days of readings around it are read with each piece, however small.
_DOUBTS = _Work(ReadTransaction.next_due_doubts, _find_doubts, fewest=7 * 24, first=7 * 24)


class Roller:
    """Works off what is due, a piece at a time; used by one thread."""

    def __init__(self, store: Store, rule: AirRule) -> None:
        """Take the store and the rule of the figures."""
        self._store = store
        self._rule = rule
        self._hours = {work: work.first for work in (_HOURS, _DOUBTS)}
        # What failed is left behind until all else is done: it must not hold that up.
        self._behind: dict[_Work, _Behind] = {_HOURS: None, _DOUBTS: None}

    def work(self) -> bool:
        """Do one piece; tell whether there may be more. It never fails: failures are logged."""
        try:
            return self._do_piece(_HOURS) or self._do_piece(_DOUBTS)
        except Exception:  # noqa: BLE001 - the thread that tells events must not die of it
            _LOG.exception("looking for what is to be rolled up failed; it will be tried again")
            return False

    def _do_piece(self, work: _Work) -> bool:
        # Nobody is kept waiting for a look.
        with self._store.reading() as snap:
            due = work.find(snap, self._behind[work])
        if due is None:
            self._behind[work] = None
            return False
        hours = min(self._hours[work], due.until_hour - due.from_hour)
        try:
            self._do(work, due._replace(until_hour=due.from_hour + hours))
        except Exception:  # noqa: BLE001 - whatever it is, the rest must go on
            _LOG.exception("rolling up %d hours of %s failed", hours, due.of)
            self._behind[work] = (due.of, due.from_hour)
        return True

    def _do(self, work: _Work, due: Due) -> None:
        with self._store.writing() as tx:
            began = perf_counter()
            work.do(tx, due, self._rule)
            took_s = perf_counter() - began
        hours = due.until_hour - due.from_hour
        fitting = round(hours * _PIECE_S / max(took_s, 1e-6))
        if fitting < hours or hours == self._hours[work]:
            # Downwards at once, upwards by steps: the next hours may be fuller than these.
            self._hours[work] = min(
                max(work.fewest, fitting), max(work.fewest, 2 * hours), _MOST_HOURS
            )


def roll_all(tx: WriteTransaction, rule: AirRule, progress: Callable[[int, int], None]) -> None:
    """Make hours and doubts anew of all readings, in place of those that are there.

    ``progress`` is told how many hours are done, and of how many.
    """
    tx.clear_air()
    mark_all(tx, rule)
    roll_due(tx, rule, progress)


def roll_due(tx: WriteTransaction, rule: AirRule, progress: Callable[[int, int], None]) -> None:
    """Work off all that is due within one transaction; ``progress`` as for :func:`roll_all`."""
    total = tx.due_left()
    done = 0
    for work in (_HOURS, _DOUBTS):
        while (due := work.find(tx, None)) is not None:
            some = due._replace(until_hour=min(due.until_hour, due.from_hour + _HOURS_AT_A_TIME))
            work.do(tx, some, rule)
            done += some.until_hour - some.from_hour
            progress(done, total)
