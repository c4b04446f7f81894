"""Writing: one transaction at a time, under the lock of the head row."""

from collections.abc import Mapping, Sequence

from rindline_server.ledger.world import World
from rindline_server.store.reading import ReadTransaction
from rindline_server.store.rows import LedgerRow

__all__ = ["WriteTransaction"]


class WriteTransaction(ReadTransaction):
    """The writer's transaction: it can read all that a reader can (``head`` moves as it appends).

    Nothing is on disk before it commits.
    """

    def append(self, rows: Sequence[LedgerRow]) -> None:
        """Add rows to the ledger; their ``seq`` go on from the head."""
        raise NotImplementedError

    def write(self, world: World, seq_of: Mapping[str, int]) -> None:
        """Write all that follows from the world's steps; ``seq_of`` gives each step's ``seq``."""
        raise NotImplementedError
