"""How an event is put together: id and time made where left out, the fields checked."""

from abc import ABC, abstractmethod
from datetime import datetime
from typing import Any, Generic, TypedDict, TypeVar, cast
from uuid import UUID

import msgspec

from rindline._clock import Clock
from rindline.errors import InvalidInputError
from rindline_schema.events import Event, EventBase, Fact
from rindline_schema.faults import faults_of
from rindline_schema.uuid7 import uuid7

__all__ = ["Common", "MakesEvents", "new_event", "new_id"]

E = TypeVar("E", bound=EventBase)
F = TypeVar("F")


class Common(TypedDict, total=False):
    """What may be said with every event: all of it may be left out.

    ``id`` is then made here (UUIDv7), ``at`` is then now. Keep the id of an event that must
    outlive this process: telling it again with its id records it once.
    """

    id: UUID
    at: datetime
    site: str | None
    note: str | None
    override: str | None


def new_id(clock: Clock) -> UUID:
    """Make an id: a UUIDv7."""
    return uuid7(int(clock.now().timestamp() * 1000), clock.random_bytes(10))


def new_event(clock: Clock, kind: type[E], common: Common, fields: dict[str, Any]) -> E:
    """Make an event; raises :class:`InvalidInputError`, with all faults, if it cannot be right."""
    made = kind(
        id=common.get("id") or new_id(clock),
        at=common.get("at") or clock.now(),
        site=common.get("site"),
        note=common.get("note"),
        override=common.get("override"),
        **fields,
    )
    name = kind.__name__.lower()
    # A msgspec struct checks nothing when it is made, only when it is read.
    try:
        checked = msgspec.convert(msgspec.to_builtins(made), kind)
    except (msgspec.ValidationError, TypeError) as error:
        raise InvalidInputError(f"{name}: {error}.") from error
    faults = faults_of(cast("Event", checked))
    if faults:
        listed = "; ".join(f"{fault.pointer}: {fault.detail}" for fault in faults)
        raise InvalidInputError(f"{name}: {listed}.")
    return checked


class MakesEvents(ABC, Generic[F]):
    """What the tables of event methods stand on: where the clock is, what is done with a fact."""

    _clock: Clock

    @abstractmethod
    def _tell_fact(self, event: Fact) -> F: ...

    def _fact(self, kind: type[EventBase], common: Common, /, **fields: Any) -> F:
        # Positional, because an event may have a field `kind` of its own.
        # Every kind in the two tables is a Fact; a union cannot bound a type variable.
        event: Any = new_event(self._clock, kind, common, fields)
        return self._tell_fact(event)
