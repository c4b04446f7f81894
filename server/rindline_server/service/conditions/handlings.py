"""What was done along a way: tendings, weighings, ironings, cuts, sales."""

from collections.abc import Iterator
from typing import NamedTuple

from rindline_schema.answers import Handling
from rindline_server.calc.ages import days_between
from rindline_server.ledger.times import from_us as moment
from rindline_server.service.conditions.told import Body, Told
from rindline_server.service.conditions.way import Way
from rindline_server.store import DeedRow

__all__ = ["HandlingTimes", "handlings", "times_of"]

_OURS_ALONE = frozenset({"weigh", "iron"})
_NOTHING_SAID = Body(type="")


class _Done(NamedTuple):
    kind: str
    lot: str
    deed: DeedRow
    body: Body


class HandlingTimes(NamedTuple):
    """When the first of some handlings was, in microseconds since 1970; None if not yet.

    ``cut_us`` is of the lot the way begins with, ``sale_us`` of the lot it ends with.
    """

    pierced_us: int | None
    cut_us: int | None
    sale_us: int | None


def times_of(told: Told, way: Way) -> HandlingTimes:
    """Give when a way's wheel was first pierced and cut, and its last lot first sold."""
    pierced_us = cut_us = sale_us = None
    for done in _along(told, way):
        at_us = done.deed.at_us
        if done.kind == "pierce" and pierced_us is None:
            pierced_us = at_us
        elif done.kind == "cut" and cut_us is None and done.lot == way.first.code:
            cut_us = at_us
        elif done.kind == "sale" and sale_us is None:
            sale_us = at_us
    return HandlingTimes(pierced_us, cut_us, sale_us)


def handlings(told: Told, way: Way, counted_from_us: int) -> list[Handling]:
    """Give what was done along a way, in order of time; a customer sees no weights and judgings."""
    return [
        Handling(
            kind=done.kind,
            lot=done.lot,
            at=moment(done.deed.at_us),
            age_days=round(days_between(counted_from_us, done.deed.at_us), 6),
            event_id=done.deed.event,
            tool=done.body.tool,
            holes=done.body.holes,
            mass_g=done.deed.mass_g if done.kind == "weigh" else None,
            body=done.body.body,
            texture=done.body.texture,
            blueing=done.body.blueing,
            coat=done.body.coat,
            flavour=done.body.flavour,
            grade=done.deed.detail if done.kind == "iron" else None,
        )
        for done in _along(told, way)
        if told.partner is None or done.kind not in _OURS_ALONE
    ]


def _along(told: Told, way: Way) -> Iterator[_Done]:
    """Go through what was done to each lot in its time on the way; an event comes once a lot."""
    for segment in way.segments:
        is_last = segment is way.segments[-1]
        seen: set[tuple[str, str]] = set()
        for deed in told.deeds.get(segment.lot.id, ()):
            # A cut may say what the lot weighed: that was no work of the wire.
            said = told.bodies.get(deed.seq) if deed.kind != "weigh" else None
            kind = _kind(told, deed, said, is_last=is_last)
            if kind is None or (deed.event, kind) in seen:
                continue
            if segment.from_us <= deed.at_us <= segment.until_us:
                seen.add((deed.event, kind))
                yield _Done(kind, segment.lot.code, deed, said or _NOTHING_SAID)


def _kind(told: Told, deed: DeedRow, said: Body | None, *, is_last: bool) -> str | None:
    """Give what a deed is called; None if it is no handling.

    What was sold of a lot that others were cut from went another way, and so did what another
    customer got.
    """
    if deed.kind == "tend":
        return deed.detail
    if deed.kind in ("weigh", "iron"):
        return deed.kind
    if deed.kind == "take":
        return "cut" if said is not None and said.type == "cut" else None
    if deed.kind == "dispatch" and deed.partner is not None and is_last:
        return "sale" if told.partner in (None, deed.partner) else None
    return None
