"""The conditions of a lot: the air along its path from hooping on, and what was done meanwhile."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import NamedTuple

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import ConditionPath, ConditionsAnswer, StayConditions
from rindline_schema.params import ConditionsParams
from rindline_schema.registers import Room
from rindline_server.calc.air import INTEGRATION_RULE, AirRule
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import from_us as moment
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import Registers
from rindline_server.service.callers import Caller
from rindline_server.service.conditions.air import PathAir
from rindline_server.service.conditions.days import ages, counted, milk_treatment, sixty_days
from rindline_server.service.conditions.handlings import handlings, times_of
from rindline_server.service.conditions.told import Told, read_told
from rindline_server.service.conditions.way import RoomTime, Way, way_of
from rindline_server.service.conditions.words import (
    in_words,
    no_paths,
    notes_on_air,
    notes_on_ways,
)
from rindline_server.service.lots import kind_of, may_see, product_name
from rindline_server.service.problems import no_such_thing
from rindline_server.store import ReadTransaction

__all__ = ["conditions"]

_MINUTE_US = 60_000_000
_MOST_NOTES = 100
_MOST_HOURS = 20_000
"""After so many entries no further path is given with its series."""


def conditions(
    snap: ReadTransaction,
    caller: Caller,
    lot: str,
    params: ConditionsParams,
    rule: AirRule,
    raw_milk_days: int,
    now: datetime,
) -> ConditionsAnswer:
    """Give the conditions of a lot: one path for a wheel or portion, one per input for a blend.

    Raises ProblemError ``not_found`` if there is no such lot, or the caller may not see it. A
    customer sees the path of what was sent to it, as far as that, without weights and judgings.
    """
    ancestry = snap.ancestry(lot)
    if ancestry is None or not may_see(snap, caller, ancestry.lot.id):
        raise no_such_thing(f"lot {lot}")
    told = read_told(snap, caller, ancestry, to_us(now))
    ways = [way for ids in told.ways if (way := way_of(told, ids)) is not None]
    names = _room_names(ways, snap.registers)
    view = _View(
        told=told,
        air=PathAir(snap, _times(ways), rule, params.base_c, params.series),
        rule=rule,
        raw_milk_days=raw_milk_days,
        registers=snap.registers,
        names=names,
    )
    paths: list[ConditionPath] = []
    hours_left = _MOST_HOURS
    for way in ways:
        paths.append(_path(view, way, with_series=hours_left > 0))
        hours_left -= len(paths[-1].series)
    notes = notes_on_ways(told, ways) if paths else no_paths(told)
    if hours_left <= 0:
        notes.append("Of so many paths the first ones only are given with their series.")
    for path in paths:
        notes += notes_on_air(path, rule, is_only=len(paths) == 1)
    asked = ancestry.lot
    return ConditionsAnswer(
        lot=asked.code,
        kind=kind_of(asked.kind),
        at=now,
        as_of=snap.as_of,
        safety_note=SAFETY_NOTE,
        rule=INTEGRATION_RULE,
        longest_gap_minutes=rule.longest_gap_us / _MINUTE_US,
        paths=paths,
        in_words=in_words(paths, names, told.way_count),
        product=asked.product,
        product_name=product_name(snap.registers, asked.product, asked.born_us),
        paths_left_out=told.way_count - len(told.ways),
        notes=list(dict.fromkeys(notes))[:_MOST_NOTES],
    )


class _View(NamedTuple):
    """What every path is made with; ``names`` are of rooms by code."""

    told: Told
    air: PathAir
    rule: AirRule
    raw_milk_days: int
    registers: Registers
    names: dict[str, str]


def _times(ways: Iterable[Way]) -> Iterator[RoomTime]:
    for way in ways:
        for segment in way.segments:
            yield from segment.legs
            yield from segment.beside


def _room_names(ways: Iterable[Way], registers: Registers) -> dict[str, str]:
    names: dict[str, str] = {}
    for time in _times(ways):
        if time.room is not None and time.room not in names:
            entry = entry_at(registers, "room", time.room, time.from_us)
            names[time.room] = entry.name if isinstance(entry, Room) else time.room
    return names


def _path(view: _View, way: Way, *, with_series: bool) -> ConditionPath:
    told, air = view.told, view.air
    times = times_of(told, way)
    count = counted(told, way, times)
    legs = way.legs
    return ConditionPath(
        lots=[segment.lot.code for segment in way.segments],
        make=way.make.code if way.make is not None else None,
        from_at=moment(way.from_us),
        until_at=moment(way.until_us),
        stays=_stays(view, way),
        figures=air.figures(legs, way.from_us, way.until_us),
        ages=ages(told, count, times),
        handlings=handlings(told, way, count.from_us),
        unobserved=air.unobserved(legs),
        doubts=air.doubts(legs),
        sensors=air.sensors(legs),
        series=air.series(legs) if with_series else [],
        sixty_days=sixty_days(
            way,
            air,
            count,
            milk_treatment(told, way, view.registers),
            view.rule,
            view.raw_milk_days,
        ),
    )


def _in_order(time: RoomTime) -> tuple[int, int, str]:
    return time.from_us, time.until_us, time.site or ""


def _stays(view: _View, way: Way) -> list[StayConditions]:
    """Give each stay with its figures, those of pieces that lay elsewhere meanwhile as well."""
    return [
        StayConditions(
            lot=time.lot,
            site=time.site,
            room=time.room,
            room_name=view.names.get(time.room) if time.room is not None else None,
            from_at=moment(time.from_us),
            until_at=moment(time.until_us),
            still_there=time.still_there,
            figures=view.air.figures([time], time.from_us, time.until_us),
        )
        for segment in way.segments
        for time in sorted((*segment.legs, *segment.beside), key=_in_order)
        if time.site is not None
    ]
