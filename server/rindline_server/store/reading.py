"""Reading: everything that is asked, from one snapshot of the record."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from rindline_schema.events import Event
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import Entry
from rindline_server.ledger.world import Registers, World
from rindline_server.store.rows import (
    BalanceRow,
    DiscrepancyRow,
    DrillRow,
    EdgeRow,
    Head,
    HoldingRow,
    Known,
    LotFilter,
    LotRow,
    Origin,
    RecordedRow,
    SendingRow,
    TraceRow,
)

__all__ = ["Direction", "ReadTransaction"]

Direction = Literal["back", "forward"]


class ReadTransaction:
    """One snapshot. Close it (or leave its ``with``) when done: it holds a connection."""

    head: Head

    @property
    def as_of(self) -> int:
        """The ``seq`` this snapshot holds for."""
        return self.head.seq

    def close(self) -> None:
        """Give the connection back; safe to call twice, from any thread."""
        raise NotImplementedError

    # --- for judging events -------------------------------------------------------------------

    def known(self, ids: Sequence[str]) -> dict[str, Known]:
        """Give what was answered to the ids among these that were told before.

        Ids of replacements told inside corrections are among them.
        """
        raise NotImplementedError

    def load(self, events: Sequence[Event], tolerance: ScaleTolerance) -> World:
        """Load all that is needed to judge these events (sites filled in), whatever their order.

        None of them is known yet.
        """
        raise NotImplementedError

    # --- the ledger and the registers ---------------------------------------------------------

    def feed(self, after: int, limit: int) -> list[RecordedRow]:
        """Give the events after a ``seq``, in order."""
        raise NotImplementedError

    def event(self, event_id: str) -> RecordedRow | None:
        """Give one event by its id, or the correction it was told in."""
        raise NotImplementedError

    @property
    def registers(self) -> Registers:
        """All register entries' versions in force; shared: do not change it."""
        raise NotImplementedError

    # --- lots ---------------------------------------------------------------------------------

    def lot(self, code: str) -> LotRow | None:
        """Give one lot; None if no event in this snapshot ever mentioned it."""
        raise NotImplementedError

    def lot_ids(self, codes: Sequence[str]) -> dict[str, int]:
        """Give the ids of the lots among these that were ever mentioned, by code."""
        raise NotImplementedError

    def find_lots(self, which: LotFilter, after: str | None, limit: int) -> list[LotRow]:
        """Give lots in order of their codes, from the first code after ``after`` on."""
        raise NotImplementedError

    def holdings(self, ids: Sequence[int]) -> list[HoldingRow]:
        """Give who holds how much of these lots."""
        raise NotImplementedError

    def holds_world(self, codes: Sequence[str]) -> World:
        """Load what ``ledger.holds.holds_at`` needs for these lots: light books and parents."""
        raise NotImplementedError

    def held_among(self, ids: Sequence[int]) -> set[int]:
        """Give those of these lots that are held now, by their own or a spreading hold."""
        raise NotImplementedError

    def discrepancies(
        self,
        after: str | None,
        limit: int,
        *,
        settled: bool | None = None,
        lots: Sequence[int] | None = None,
    ) -> list[DiscrepancyRow]:
        """Give discrepancies in order of their ids after ``after``.

        ``settled``: only those with (or without) a finding in force. ``lots``: only of these.
        """
        raise NotImplementedError

    # --- traces -------------------------------------------------------------------------------

    def trace(self, ids: Sequence[int], direction: Direction) -> Iterator[TraceRow]:
        """Give the lots reached from these (steps 0), with their holders, by steps then id.

        Finish (or drop) the iterator before asking anything else of this snapshot.
        """
        raise NotImplementedError

    def trace_edges(self, ids: Sequence[int], direction: Direction) -> Iterator[EdgeRow]:
        """Give the edges between the lots reached, in order of parent then child."""
        raise NotImplementedError

    def origin(self, code: str) -> Origin | None:
        """Give a lot with all it was made of; None if it was never mentioned."""
        raise NotImplementedError

    def balances(self, ids: Sequence[int]) -> list[BalanceRow]:
        """Give the sums over these lots, by kind."""
        raise NotImplementedError

    def sendings(self, ids: Sequence[int]) -> list[SendingRow]:
        """Give what of these lots was sent to partners, and what came back, in force now."""
        raise NotImplementedError

    # --- the record as it stood earlier -------------------------------------------------------

    def reach_as_of(
        self, ids: Sequence[int], direction: Direction, seq: int
    ) -> tuple[dict[int, int], list[EdgeRow]]:
        """Give steps by lot id, and the edges, as they stood at ``seq``."""
        raise NotImplementedError

    def entries_as_of(self, ids: Sequence[int], seq: int) -> dict[str, list[Entry]]:
        """Give each lot's entries as they stood at ``seq``, by code.

        A lot first mentioned later is missing.
        """
        raise NotImplementedError

    def lot_codes(self, ids: Sequence[int]) -> Mapping[int, str]:
        """Give the codes of lots by id."""
        raise NotImplementedError

    # --- drills -------------------------------------------------------------------------------

    def drill(self, drill_id: str) -> DrillRow | None:
        """Give one drill."""
        raise NotImplementedError

    def drills(self, before: tuple[int, str] | None, limit: int) -> list[DrillRow]:
        """Give drills, newest first, from those before (asked_us, id) on."""
        raise NotImplementedError
