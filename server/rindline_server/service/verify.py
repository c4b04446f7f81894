"""Checking that the ledger is what was written: nothing changed, left out or put in between."""

from collections.abc import Callable
from typing import NamedTuple

from rindline_server.store import LedgerFault, Store

__all__ = ["Verified", "verify"]


class Verified(NamedTuple):
    """How many events were walked through, the hash they end with, and the first fault."""

    events: int
    hash: bytes
    fault: LedgerFault | None


def verify(store: Store, progress: Callable[[int, int], None]) -> Verified:
    """Walk the hash chain from the first event to the head, in one snapshot.

    ``progress`` is told how many events are done, and of how many. A ledger that somebody wrote
    anew from some event on, hashes and head included, is whole in itself: keep the hash that is
    given here elsewhere, and compare.
    """
    with store.reading() as snap:
        events = snap.as_of
        fault = snap.first_fault(lambda done: progress(done, events))
        return Verified(events, snap.head.hash, fault)
