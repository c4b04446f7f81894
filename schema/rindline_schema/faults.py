"""What is wrong with an event by itself: all that its shape alone cannot say, all at once.

Nothing is looked up here, so a station can ask before it tells, and the server before it looks.
Each fault carries a JSON Pointer into the event as it was sent.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from rindline_schema import events as ev
from rindline_schema import registers as reg
from rindline_schema.codes import KIND_LETTERS, kind_of_code, lot_code_fault
from rindline_schema.gs1 import gln_fault, gtin_fault, sscc_fault
from rindline_schema.problems import Fault

__all__ = ["faults_of"]

_EARLIEST = datetime(1970, 1, 1, tzinfo=UTC)
_LATEST = datetime(2200, 1, 1, tzinfo=UTC)

_Faults = Iterator[Fault]


def faults_of(event: ev.Event, pointer: str = "") -> list[Fault]:
    """Give everything wrong with an event by itself, or an empty list.

    ``pointer`` is the JSON Pointer of the event in what was sent: empty if it was sent alone.
    """
    found = [*_id_faults(event.id, f"{pointer}/id"), *_time_faults(event.at, f"{pointer}/at")]
    if event.station_at is not None:
        found.append(Fault(pointer=f"{pointer}/station_at", detail="only the server sets this"))
    check = _CHECKS.get(type(event))
    if check is not None:
        found.extend(check(event, pointer))
    return found


# --- what several kinds of event share --------------------------------------------------------


def _id_faults(value: UUID, pointer: str) -> _Faults:
    if value.version != 7:
        yield Fault(pointer=pointer, detail="the id of an event is a UUID of version 7")


def _time_faults(at: datetime | None, pointer: str) -> _Faults:
    if at is not None and not _EARLIEST <= at < _LATEST:
        yield Fault(pointer=pointer, detail="the time lies before 1970 or after 2199")


def _lot_faults(lot: str | None, pointer: str, *kinds: str) -> _Faults:
    """Prove a lot code, and that its letter stands for one of the kinds, if any are named."""
    if lot is None:
        return
    fault = lot_code_fault(lot)
    if fault is not None:
        yield Fault(pointer=pointer, detail=fault)
    elif kinds and kind_of_code(lot) not in kinds:
        letters = " or ".join(KIND_LETTERS[kind] for kind in kinds)
        yield Fault(
            pointer=pointer,
            detail=f"{lot!r} is the code of a {kind_of_code(lot)}: here the letter is {letters}",
        )


def _case_faults(case: str | None, pointer: str) -> _Faults:
    fault = sscc_fault(case) if case is not None else None
    if fault is not None:
        yield Fault(pointer=pointer, detail=fault)


def _repeated(codes: Iterable[str | None], path: Callable[[int], str]) -> _Faults:
    """Find codes that stand in a list a second time."""
    seen: set[str] = set()
    for i, code in enumerate(codes):
        if code is not None and code in seen:
            yield Fault(pointer=path(i), detail=f"{code!r} is named twice in this event")
        elif code is not None:
            seen.add(code)


def _just_one(pointer: str, first: str, second: str, *, has: tuple[bool, bool]) -> _Faults:
    if has[0] == has[1]:
        which = "both" if has[0] else "neither"
        yield Fault(pointer=pointer, detail=f"name either {first} or {second}, not {which}")


def _quantity_faults(item: ev.Input | ev.Receive, pointer: str) -> _Faults:
    has = (item.mass_g is not None, item.volume_ml is not None)
    yield from _just_one(pointer, "mass_g", "volume_ml", has=has)


def _plain_lots_faults(event: Any, pointer: str) -> _Faults:
    """Events that list bare codes: move, tend, hold, release."""
    for i, lot in enumerate(event.lots):
        yield from _lot_faults(lot, f"{pointer}/lots/{i}")
    yield from _repeated(event.lots, lambda i: f"{pointer}/lots/{i}")


def _listed_lots_faults(event: Any, pointer: str) -> _Faults:
    """Events that list lots with an amount: discard, and pack and unpack with their case."""
    yield from _case_faults(getattr(event, "case", None), f"{pointer}/case")
    for i, item in enumerate(event.lots):
        yield from _lot_faults(item.lot, f"{pointer}/lots/{i}/lot")
    yield from _repeated((x.lot for x in event.lots), lambda i: f"{pointer}/lots/{i}/lot")


def _one_lot_faults(event: Any, pointer: str) -> _Faults:
    """Events about a single lot: iron, weigh, sample."""
    yield from _lot_faults(event.lot, f"{pointer}/lot")


def _made_faults(made: Sequence[Any], pointer: str, kinds: Sequence[str]) -> _Faults:
    """Lots that an event makes: the letter fits, and none is made twice."""
    for i, item in enumerate(made):
        yield from _lot_faults(item.lot, f"{pointer}/{i}/lot", *kinds)
    yield from _repeated((item.lot for item in made), lambda i: f"{pointer}/{i}/lot")


def _of_itself_faults(used: Iterable[str], made: Iterable[str | None], pointer: str) -> _Faults:
    into = set(used)
    for i, lot in enumerate(made):
        if lot is not None and lot in into:
            path = pointer.format(i=i)
            yield Fault(pointer=path, detail=f"{lot!r} would be made of itself")


def _inputs_faults(inputs: Sequence[ev.Input], pointer: str) -> _Faults:
    for i, item in enumerate(inputs):
        yield from _lot_faults(item.lot, f"{pointer}/inputs/{i}/lot")
        yield from _quantity_faults(item, f"{pointer}/inputs/{i}")
    yield from _repeated((x.lot for x in inputs), lambda i: f"{pointer}/inputs/{i}/lot")


# --- milk, vat, wheels ------------------------------------------------------------------------


def _receive(event: ev.Receive, pointer: str) -> _Faults:
    yield from _lot_faults(event.lot, f"{pointer}/lot", "milk", "ingredient")
    yield from _quantity_faults(event, pointer)


def _make(event: ev.Make, pointer: str) -> _Faults:
    yield from _lot_faults(event.lot, f"{pointer}/lot", "make")
    yield from _inputs_faults(event.inputs, pointer)
    yield from _of_itself_faults((x.lot for x in event.inputs), [event.lot], f"{pointer}/lot")
    yield from _time_faults(event.ended_at, f"{pointer}/ended_at")
    if event.ended_at is not None and event.ended_at < event.at:
        yield Fault(pointer=f"{pointer}/ended_at", detail="the make ended before it began")
    for i, reading in enumerate(event.readings):
        yield from _time_faults(reading.at, f"{pointer}/readings/{i}/at")


def _hoop(event: ev.Hoop, pointer: str) -> _Faults:
    yield from _lot_faults(event.make, f"{pointer}/make")
    yield from _made_faults(event.wheels, f"{pointer}/wheels", ["wheel"])


def _tend(event: ev.Tend, pointer: str) -> _Faults:
    yield from _plain_lots_faults(event, pointer)
    if event.holes is not None and event.task != "pierce":
        yield Fault(pointer=f"{pointer}/holes", detail="only piercing makes holes")


def _cut(event: ev.Cut, pointer: str) -> _Faults:
    yield from _lot_faults(event.lot, f"{pointer}/lot")
    yield from _made_faults(event.pieces, f"{pointer}/pieces", ["portion", "trim"])
    made = [piece.lot for piece in event.pieces]
    yield from _of_itself_faults([event.lot], made, f"{pointer}/pieces/{{i}}/lot")
    for i, piece in enumerate(event.pieces):
        if piece.place is not None and piece.place.from_deg == piece.place.to_deg:
            yield Fault(
                pointer=f"{pointer}/pieces/{i}/place",
                detail="a place reaches from one angle to another; the whole round is 0 to 360",
            )


def _blend(event: ev.Blend, pointer: str) -> _Faults:
    yield from _inputs_faults(event.inputs, pointer)
    yield from _made_faults(event.outputs, f"{pointer}/outputs", ["portion", "trim", "blend"])
    used, made = (x.lot for x in event.inputs), (x.lot for x in event.outputs)
    yield from _of_itself_faults(used, made, f"{pointer}/outputs/{{i}}/lot")


# --- shipping ---------------------------------------------------------------------------------


def _lines_faults(lines: Sequence[ev.Line], pointer: str) -> _Faults:
    for i, line in enumerate(lines):
        path = f"{pointer}/lines/{i}"
        has = (line.lot is not None, line.case is not None)
        yield from _just_one(path, "lot", "case", has=has)
        yield from _lot_faults(line.lot, f"{path}/lot")
        yield from _case_faults(line.case, f"{path}/case")
        if line.case is not None and (line.count is not None or line.mass_g is not None):
            yield Fault(pointer=path, detail="a case goes whole: name no count or mass with it")
    yield from _repeated((x.lot for x in lines), lambda i: f"{pointer}/lines/{i}/lot")
    yield from _repeated((x.case for x in lines), lambda i: f"{pointer}/lines/{i}/case")


def _dispatch(event: ev.Dispatch, pointer: str) -> _Faults:
    yield from _lines_faults(event.lines, pointer)
    has = (event.to is not None, event.to_site is not None)
    yield from _just_one(pointer, "to", "to_site", has=has)
    if event.to_site is not None and event.to_site == event.site:
        yield Fault(
            pointer=f"{pointer}/to_site", detail="goods are not dispatched to where they are"
        )


def _arrive(event: ev.Arrive, pointer: str) -> _Faults:
    yield from _lines_faults(event.lines, pointer)
    has = (event.document is not None, event.returned_by is not None)
    yield from _just_one(pointer, "document", "returned_by", has=has)


# --- safety and office ------------------------------------------------------------------------


def _clean(event: ev.Clean, pointer: str) -> _Faults:
    has = (event.tool is not None, event.room is not None)
    yield from _just_one(pointer, "tool", "room", has=has)


def _label(event: ev.Label, pointer: str) -> _Faults:
    has = (event.lot is not None, event.case is not None)
    yield from _just_one(pointer, "lot", "case", has=has)
    yield from _lot_faults(event.lot, f"{pointer}/lot")
    yield from _case_faults(event.case, f"{pointer}/case")
    if event.reprint_of is not None:
        yield from _id_faults(event.reprint_of, f"{pointer}/reprint_of")
        if event.reason is None:
            yield Fault(pointer=f"{pointer}/reason", detail="a reprint says why it was needed")


def _release(event: ev.Release, pointer: str) -> _Faults:
    yield from _plain_lots_faults(event, pointer)
    if event.hold is not None:
        yield from _id_faults(event.hold, f"{pointer}/hold")


def _declare(event: ev.Declare, pointer: str) -> _Faults:
    entry = event.entry
    fault = None
    if isinstance(entry, reg.Product) and entry.gtin is not None:
        fault = gtin_fault(entry.gtin)
    elif isinstance(entry, reg.Site | reg.Partner) and entry.gln is not None:
        fault = gln_fault(entry.gln)
    if fault is not None:
        name = "gtin" if isinstance(entry, reg.Product) else "gln"
        yield Fault(pointer=f"{pointer}/entry/{name}", detail=fault)
    if isinstance(entry, reg.Room):
        yield from _limits_faults(entry, f"{pointer}/entry")


def _limits_faults(room: reg.Room, pointer: str) -> _Faults:
    for unit in ("c", "humidity_pct"):
        least, most = getattr(room, f"least_{unit}"), getattr(room, f"most_{unit}")
        if least is not None and most is not None and least > most:
            yield Fault(pointer=f"{pointer}/least_{unit}", detail=f"it is above most_{unit}")


def _correct(event: ev.Correct, pointer: str) -> _Faults:
    yield from _id_faults(event.event, f"{pointer}/event")
    if event.event == event.id:
        yield Fault(pointer=f"{pointer}/event", detail="a correction does not correct itself")
    if event.replacement is None:
        return
    for other, what in ((event.id, "the correction"), (event.event, "the event it stands for")):
        if event.replacement.id == other:
            yield Fault(
                pointer=f"{pointer}/replacement/id",
                detail=f"the replacement needs an id of its own, not that of {what}",
            )
    yield from faults_of(event.replacement, f"{pointer}/replacement")


_CHECKS: dict[type, Callable[[Any, str], _Faults]] = {
    ev.Receive: _receive,
    ev.Make: _make,
    ev.Hoop: _hoop,
    ev.Move: _plain_lots_faults,
    ev.Tend: _tend,
    ev.Iron: _one_lot_faults,
    ev.Weigh: _one_lot_faults,
    ev.Cut: _cut,
    ev.Blend: _blend,
    ev.Pack: _listed_lots_faults,
    ev.Unpack: _listed_lots_faults,
    ev.Dispatch: _dispatch,
    ev.Arrive: _arrive,
    ev.Sample: _one_lot_faults,
    ev.Hold: _plain_lots_faults,
    ev.Release: _release,
    ev.Discard: _listed_lots_faults,
    ev.Clean: _clean,
    ev.Declare: _declare,
    ev.Label: _label,
    ev.Correct: _correct,
}
