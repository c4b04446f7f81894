"""What the files of outboxes hold, as tables: events and lot codes in one, readings in another."""

from rindline.outbox._file import Layout

__all__ = ["EVENTS", "READINGS"]

_BOOTS = "CREATE TABLE boots (boot TEXT PRIMARY KEY, wall_ms_at_0 INTEGER NOT NULL) WITHOUT ROWID"

_EVENT_TABLES = (
    _BOOTS,
    """CREATE TABLE events (
        number INTEGER PRIMARY KEY,
        id TEXT NOT NULL UNIQUE,
        state TEXT NOT NULL CHECK (state IN ('queued', 'recorded', 'set_aside', 'mended')),
        event BLOB NOT NULL,
        boot TEXT NOT NULL,
        steady_ms INTEGER NOT NULL,
        wall_ms INTEGER NOT NULL,
        at_age_ms INTEGER NOT NULL,
        outcome BLOB,
        mended_by TEXT)""",
    "CREATE INDEX events_by_state ON events (state, number)",
    """CREATE TABLE wanted_codes (
        kind TEXT NOT NULL, site TEXT NOT NULL, reserve INTEGER NOT NULL, days INTEGER NOT NULL,
        PRIMARY KEY (kind, site)) WITHOUT ROWID""",
    """CREATE TABLE asked_blocks (
        id TEXT PRIMARY KEY, kind TEXT NOT NULL, site TEXT NOT NULL, day TEXT NOT NULL,
        count INTEGER NOT NULL) WITHOUT ROWID""",
    """CREATE TABLE blocks (
        id TEXT PRIMARY KEY, kind TEXT NOT NULL, site TEXT NOT NULL, day TEXT NOT NULL,
        prefix TEXT NOT NULL, first_serial INTEGER NOT NULL, last_serial INTEGER NOT NULL,
        codes_left INTEGER NOT NULL, stamped_to INTEGER NOT NULL, closed INTEGER NOT NULL,
        told TEXT NOT NULL) WITHOUT ROWID""",
    """CREATE TABLE spoiled (
        block TEXT NOT NULL, serial INTEGER NOT NULL, PRIMARY KEY (block, serial))
        WITHOUT ROWID""",
)

EVENTS = Layout("an outbox of events", 0x726C6F62, 1, _EVENT_TABLES)  # "rlob"

_READING_TABLES = (
    _BOOTS,
    """CREATE TABLE readings (
        number INTEGER PRIMARY KEY,
        state TEXT NOT NULL CHECK (state IN ('queued', 'set_aside')),
        reading BLOB NOT NULL,
        boot TEXT NOT NULL,
        steady_ms INTEGER NOT NULL,
        wall_ms INTEGER NOT NULL,
        problem BLOB)""",
    "CREATE INDEX readings_by_state ON readings (state, number)",
)

READINGS = Layout("an outbox of readings", 0x726C7264, 1, _READING_TABLES)  # "rlrd"
