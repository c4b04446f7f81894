"""The store: the only place that knows SQL. SQLite and PostgreSQL, one interface.

store = Store(url)
with store.writing() as tx:             # the one writer: the head row is locked
    known = tx.known(ids)
    world = tx.load(events, tolerance)  # then ledger.apply on each
    tx.append(rows)
    tx.write(world, seq_of)
with store.reading() as snap:           # one snapshot; snap.as_of says of which seq
    snap.reach([lot_id], "forward")
"""

from rindline_server.store.air import DoubtRow
from rindline_server.store.conditions import Ancestry, DeedRow, KinRow, StayRow
from rindline_server.store.due import Due
from rindline_server.store.reading import ReadTransaction
from rindline_server.store.readings import ReadingRow, ToldReadings
from rindline_server.store.rebuilding import Digest
from rindline_server.store.rows import (
    HOLDER_SORTS,
    LOT_KINDS,
    LOT_STATES,
    AncestorRow,
    BalanceRow,
    DiscrepancyRow,
    DrillRow,
    EdgeRow,
    Head,
    HoldingRow,
    KeyRow,
    Known,
    LedgerRow,
    LotFilter,
    LotRow,
    Origin,
    Reached,
    RecordedRow,
    SendingRow,
    TraceRow,
)
from rindline_server.store.stations import CodeBlockRow, OutboxRow
from rindline_server.store.store import Store, StoreBusyError
from rindline_server.store.verifying import LedgerFault
from rindline_server.store.wheels import MarkRow, WheelFilter, WheelRow
from rindline_server.store.writing import WriteTransaction

__all__ = [
    "HOLDER_SORTS",
    "LOT_KINDS",
    "LOT_STATES",
    "AncestorRow",
    "Ancestry",
    "BalanceRow",
    "CodeBlockRow",
    "DeedRow",
    "Digest",
    "DiscrepancyRow",
    "DoubtRow",
    "DrillRow",
    "Due",
    "EdgeRow",
    "Head",
    "HoldingRow",
    "KeyRow",
    "KinRow",
    "Known",
    "LedgerFault",
    "LedgerRow",
    "LotFilter",
    "LotRow",
    "MarkRow",
    "Origin",
    "OutboxRow",
    "Reached",
    "ReadTransaction",
    "ReadingRow",
    "RecordedRow",
    "SendingRow",
    "StayRow",
    "Store",
    "StoreBusyError",
    "ToldReadings",
    "TraceRow",
    "WheelFilter",
    "WheelRow",
    "WriteTransaction",
]
