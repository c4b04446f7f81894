"""Readings in doubt, as they are kept, and anew where readings were told since."""

from collections.abc import Sequence
from typing import get_args

from rindline_schema.answers import Doubt
from rindline_schema.answers.readings import DoubtKind
from rindline_server.calc.air import DOUBT_RULE, HOUR_US, doubts, sample_of, window_for
from rindline_server.ledger.hanging import hangings, stays
from rindline_server.ledger.times import from_us as moment
from rindline_server.store import DoubtRow, ReadTransaction

__all__ = ["as_doubt", "doubts_over", "find_doubts", "sensor_doubts"]

_KINDS: dict[str, DoubtKind] = {kind: kind for kind in get_args(DoubtKind)}


def doubts_over(
    snap: ReadTransaction,
    room: str,
    from_us: int,
    until_us: int,
    kept: Sequence[DoubtRow] | None = None,
) -> list[Doubt]:
    """Give the doubts about readings of a room's sensors from one time until another.

    Cut to it, and to when the sensor hung there; in order of time. ``kept``: all doubts that are
    kept of these sensors and touch the time, if they were read already.
    """
    found: list[DoubtRow] = []
    for stay in stays(hangings(snap.registers, room)):
        begin_us, end_us = max(stay[0].from_us, from_us), min(stay[-1].until_us, until_us)
        if begin_us >= end_us:
            continue
        for row in sensor_doubts(snap, stay[0].sensor, begin_us, end_us, kept):
            cut = row._replace(
                from_us=max(row.from_us, begin_us), until_us=min(row.until_us, end_us)
            )
            if cut.from_us < cut.until_us:
                found.append(cut)
    found.sort(key=lambda row: (row.from_us, row.sensor, row.kind))
    return [as_doubt(row) for row in found]


def as_doubt(row: DoubtRow) -> Doubt:
    """Give a doubt as answers have it."""
    return Doubt(
        sensor=row.sensor,
        kind=_KINDS[row.kind],
        from_at=moment(row.from_us),
        until_at=moment(row.until_us),
        detail=row.detail,
    )


def sensor_doubts(
    snap: ReadTransaction,
    sensor: str,
    from_us: int,
    until_us: int,
    kept: Sequence[DoubtRow] | None = None,
) -> list[DoubtRow]:
    """Give all doubts about a sensor's readings that touch a time, whole, in order of time.

    ``kept`` as for :func:`doubts_over`.
    """
    if kept is None:
        kept = snap.doubts([sensor], from_us, until_us)
    kept = [
        row
        for row in kept
        if row.sensor == sensor and row.from_us <= until_us and row.until_us >= from_us
    ]
    # A doubt that is kept may go on in what is due, however far from the time asked for.
    due = _due(
        snap,
        sensor,
        min([from_us, *(row.from_us for row in kept)]),
        max([until_us, *(row.until_us for row in kept)]),
    )
    if due is None:
        return kept
    window_from, window_until, anew = find_doubts(snap, sensor, *due)
    kept = [row for row in kept if row.until_us < window_from or row.from_us > window_until]
    kept += [row for row in anew if row.from_us <= until_us and row.until_us >= from_us]
    return sorted(kept, key=lambda row: (row.from_us, row.kind))


def _due(snap: ReadTransaction, sensor: str, from_us: int, until_us: int) -> tuple[int, int] | None:
    """Give a time that holds all hours due whose readings may bear on a sensor's doubts."""
    reach_us = DOUBT_RULE.reach_us
    first, behind = (from_us - reach_us) // HOUR_US, (until_us + reach_us) // HOUR_US + 1
    due = snap.due_doubts(sensor, first, behind)
    return (due[0][0] * HOUR_US, due[-1][1] * HOUR_US) if due else None


def find_doubts(
    snap: ReadTransaction, sensor: str, from_us: int, until_us: int
) -> tuple[int, int, list[DoubtRow]]:
    """Find the doubts anew that readings from one time to another may have changed.

    Gives a wider time (from, until), and all doubts that touch it: to be put in place of all that
    are kept of the sensor and touch it.
    """
    window = window_for(from_us, until_us, ())
    while True:
        standing = snap.doubts([sensor], *window)
        wider = window_for(from_us, until_us, [(row.from_us, row.until_us) for row in standing])
        if wider == window:
            break
        window = wider
    shown = [sample_of(*one) for one in snap.readings(sensor, *window)]
    rows = [
        DoubtRow(sensor, one.from_us, one.kind, one.until_us, one.detail) for one in doubts(shown)
    ]
    return (*window, rows)
