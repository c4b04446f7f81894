"""The air of one room over a time."""

from datetime import UTC, datetime, timedelta

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import ClimateAnswer
from rindline_schema.params import ClimateParams
from rindline_schema.problems import Fault
from rindline_schema.registers import Room
from rindline_server.calc.air import INTEGRATION_RULE, AirRule
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import to_us
from rindline_server.service.air.doubts import doubts_over
from rindline_server.service.air.figures import RoomAir, air_figures, series_of, unobserved_of
from rindline_server.service.air.hours import air_of, days_over, hours_over
from rindline_server.service.air.notes import notes_on
from rindline_server.service.air.told import limits_over, sensors_over
from rindline_server.service.problems import ProblemError, no_such_thing, problem_error
from rindline_server.store import ReadTransaction

__all__ = ["climate"]

_USUAL = timedelta(days=28)
_LONGEST = timedelta(days=400)
_EARLIEST = datetime(1970, 1, 1, tzinfo=UTC)
_LATEST = datetime(2200, 1, 1, tzinfo=UTC)
_MINUTE_US = 60_000_000


def climate(
    snap: ReadTransaction, room: str, params: ClimateParams, rule: AirRule, now: datetime
) -> ClimateAnswer:
    """Give a room's air over a time, its limits then, and what the figures rest on.

    Raises ProblemError ``not_found`` if no such room was ever declared, ``unknown_parameter`` if
    the time asked for is none. Another base of the degree-hours than the rule's takes longer: it
    is computed from the readings, not from hours rolled up.
    """
    from_at, until_at = _window(params, now)
    from_us, until_us = to_us(from_at), to_us(until_at)
    entry = entry_at(snap.registers, "room", room, until_us)
    if not isinstance(entry, Room):
        raise no_such_thing(f"room {room!r}")
    over = hours_over if params.series == "hours" else days_over
    pieces = over(snap, room, from_us, until_us, rule, params.base_c)
    whole = air_of(pieces, from_us, until_us)
    sensors = sensors_over(snap, room, from_us, until_us)
    doubts = doubts_over(snap, room, from_us, until_us)
    figures = air_figures([RoomAir(room, whole)], from_us, until_us, doubts, rule, params.base_c)
    return ClimateAnswer(
        room=room,
        name=entry.name,
        site=entry.site,
        from_at=from_at,
        until_at=until_at,
        as_of=snap.as_of,
        safety_note=SAFETY_NOTE,
        rule=INTEGRATION_RULE,
        longest_gap_minutes=rule.longest_gap_us / _MINUTE_US,
        figures=figures,
        limits=limits_over(snap, room, from_us, until_us),
        sensors=sensors,
        unobserved=unobserved_of(whole, room),
        doubts=doubts,
        series=series_of(pieces, params.series, room),
        notes=notes_on(sensors, doubts, figures, rule),
    )


def _window(params: ClimateParams, now: datetime) -> tuple[datetime, datetime]:
    """Give the time asked for, in UTC."""
    for name in ("from_at", "until_at"):
        given = getattr(params, name)
        if given is not None and not _EARLIEST <= given < _LATEST:
            raise _refused(name, "the time lies before 1970 or after 2199")
    until_at = (now if params.until_at is None else params.until_at).astimezone(UTC)
    from_at = until_at - _USUAL if params.from_at is None else params.from_at.astimezone(UTC)
    if from_at >= until_at:
        raise _refused("from_at", "it is not before the end of the time asked for")
    if until_at - from_at > _LONGEST:
        raise _refused("from_at", f"more than {_LONGEST.days} days before the end")
    return from_at, until_at


def _refused(name: str, detail: str) -> ProblemError:
    fault = Fault(pointer=name, detail=detail)
    return problem_error("unknown_parameter", f"{name}: {detail}", faults=[fault])
