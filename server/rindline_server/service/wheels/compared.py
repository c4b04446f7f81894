"""Wheels made ready to be compared: how each was judged, where it stood, its measures until then.

A wheel is judged by its last ironing, and what came after cannot have mattered: everything counts
from hooping to that. Of a wheel not ironed it counts to its first cut, or to now.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import msgspec

from rindline_server.calc.air import AirRule
from rindline_server.ledger.entries import EntryKind
from rindline_server.service.conditions.told import Body
from rindline_server.service.wheels.curves import (
    CURVE_KINDS,
    RoomsAir,
    curve_of,
    stays_in,
)
from rindline_server.service.wheels.measures import Life, measures_of, shared_week
from rindline_server.store import MarkRow, ReadTransaction, WheelRow

__all__ = ["ComparedWheel", "read_wheels"]

_KINDS: tuple[EntryKind, ...] = (*CURVE_KINDS, "iron")
_MOVES: tuple[EntryKind, ...] = ("born", "move", "arrive")
_SCORES = ("body", "texture", "blueing", "coat", "flavour")

_BODY = msgspec.json.Decoder(Body)


class _NewWheel(msgspec.Struct, frozen=True):
    lot: str | None = None
    shelf: str | None = None


class _Hoop(msgspec.Struct, frozen=True):
    wheels: list[_NewWheel] = []
    replacement: "_Hoop | None" = None


_HOOP = msgspec.json.Decoder(_Hoop)


class ComparedWheel(NamedTuple):
    """A wheel, its make, where it was longest, how its last ironing went, and its measures."""

    row: WheelRow
    make: str
    room: str | None
    shelf: str | None
    score: float | None
    grade: str | None
    measures: Mapping[str, float]


def read_wheels(
    snap: ReadTransaction, rows: Sequence[WheelRow], rule: AirRule, now_us: int, *, shelves: bool
) -> list[ComparedWheel]:
    """Read all that is compared of these wheels, in as many statements as for one.

    The shelves are told in the bodies of the hoopings: they are read only if asked for.
    """
    if not rows:
        return []
    ids = [row.id for row in rows]
    marks = _by_wheel(snap.marks(ids, (*_KINDS, *_MOVES) if shelves else _KINDS, ("pierce",)))
    irons = {i: _last_iron(found) for i, found in marks.items()}
    bodies = _bodies(snap, marks, irons)
    curves = {row.id: curve_of(row, marks.get(row.id, ())) for row in rows}
    spans = {
        row.id: (row.born_us, _end_us(irons.get(row.id), curves[row.id].ended_us, now_us))
        for row in rows
    }
    stays = stays_in(snap.stays(ids), spans)
    air = RoomsAir(snap, stays.values(), rule)
    turned = snap.turnings(ids)
    losses = {row.id: curves[row.id].points(spans[row.id][1]) for row in rows}
    judged = [losses[i] for i, iron in irons.items() if iron is not None]
    week = shared_week(judged or losses.values())
    makes = snap.makes_of_wheels(ids)
    standing = _shelves(snap, rows, marks, spans) if shelves else {}
    return [
        ComparedWheel(
            row=row,
            make=makes.get(row.id, row.code),
            room=_longest((stay.room, stay.until_us - stay.from_us) for stay in stays[row.id]),
            shelf=standing.get(row.id),
            score=_score(bodies, irons.get(row.id)),
            grade=_grade(irons.get(row.id)),
            measures=measures_of(
                Life(
                    born_us=row.born_us,
                    until_us=spans[row.id][1],
                    air=air.over(stays[row.id], *spans[row.id]),
                    piercings=_piercings(bodies, marks.get(row.id, ()), spans[row.id]),
                    turnings=turned.get(row.id, 0) if turned else None,
                    losses=losses[row.id],
                ),
                week,
            ),
        )
        for row in rows
    ]


def _by_wheel(marks: Iterable[MarkRow]) -> dict[int, list[MarkRow]]:
    found: dict[int, list[MarkRow]] = {}
    for mark in marks:
        found.setdefault(mark.lot_id, []).append(mark)
    return found


def _end_us(iron: MarkRow | None, ended_us: int | None, now_us: int) -> int:
    if iron is not None:
        return iron.at_us
    return now_us if ended_us is None else ended_us


# --- judged, pierced ----------------------------------------------------------------------------


def _last_iron(marks: Sequence[MarkRow]) -> MarkRow | None:
    return next((mark for mark in reversed(marks) if mark.kind == "iron"), None)


def _bodies(
    snap: ReadTransaction,
    marks: Mapping[int, Sequence[MarkRow]],
    irons: Mapping[int, MarkRow | None],
) -> dict[int, Body]:
    seqs = {iron.seq for iron in irons.values() if iron is not None}
    seqs.update(mark.seq for found in marks.values() for mark in found if mark.kind == "tend")
    told = snap.bodies_at(sorted(seqs)) if seqs else {}
    decoded = {seq: _BODY.decode(body) for seq, body in told.items()}
    return {seq: body.replacement or body for seq, body in decoded.items()}


def _score(bodies: Mapping[int, Body], iron: MarkRow | None) -> float | None:
    """Give the mean of what the last ironing scored."""
    if iron is None:
        return None
    given = [getattr(bodies[iron.seq], name) for name in _SCORES]
    scores = [score for score in given if score is not None]
    return sum(scores) / len(scores) if scores else None


def _grade(iron: MarkRow | None) -> str | None:
    return iron.detail.strip() if iron is not None and iron.detail else None


def _piercings(
    bodies: Mapping[int, Body], marks: Iterable[MarkRow], span: tuple[int, int]
) -> list[tuple[int, int | None]]:
    """Give when it was pierced and with how many holes, as far as told."""
    return [
        (mark.at_us, bodies[mark.seq].holes)
        for mark in marks
        if mark.kind == "tend" and span[0] <= mark.at_us <= span[1]
    ]


# --- where it stood -----------------------------------------------------------------------------


def _longest(times: Iterable[tuple[str, int]]) -> str | None:
    """Give the name with the most time; of equal ones the first in order of names."""
    sums: dict[str, int] = {}
    for name, span_us in times:
        sums[name] = sums.get(name, 0) + span_us
    return min(sums, key=lambda name: (-sums[name], name)) if sums else None


def _shelves(
    snap: ReadTransaction,
    rows: Sequence[WheelRow],
    marks: Mapping[int, Sequence[MarkRow]],
    spans: Mapping[int, tuple[int, int]],
) -> dict[int, str]:
    """Give the shelf each wheel stood on longest, as "room/shelf", if any was told."""
    at_birth: dict[str, str | None] = {}
    for body in snap.bodies_at(sorted({row.born_seq for row in rows})).values():
        told = _HOOP.decode(body)
        at_birth.update((one.lot or "", one.shelf) for one in (told.replacement or told).wheels)
    found = {}
    for row in rows:
        times = _shelf_times(marks.get(row.id, ()), at_birth.get(row.code), spans[row.id])
        shelf = _longest(times)
        if shelf is not None:
            found[row.id] = shelf
    return found


def _shelf_times(
    marks: Iterable[MarkRow], first: str | None, span: tuple[int, int]
) -> list[tuple[str, int]]:
    """Give the times on known shelves until the span's end: from each move to the next."""
    times = []
    here: str | None = None
    since_us = span[0]
    for mark in marks:
        if mark.kind not in _MOVES or mark.at_us > span[1]:
            continue
        if here is not None:
            times.append((here, mark.at_us - since_us))
        shelf = {"born": first, "move": mark.detail}.get(mark.kind)
        here = f"{mark.room}/{shelf}" if mark.room and shelf else None
        since_us = mark.at_us
    if here is not None:
        times.append((here, span[1] - since_us))
    return times
