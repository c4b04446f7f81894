"""The typed methods for telling events, written once for every client.

What differs between clients is only what becomes of the finished event: ``Client`` answers
:class:`Told`, ``AsyncClient`` a coroutine of it, ``EventMaker`` the event itself. So the methods
stand in a base class that is generic in that result, and a client adds one method that says what
to do with an event. That keeps every signature in one place, in full view of mypy, an editor and
``help()``, with nothing made at run time. A decorator over ``ParamSpec`` could not make ``id``
and ``at`` optional, since the structs require them on the wire.
"""

from abc import abstractmethod
from typing import Generic, TypeVar, Unpack
from uuid import UUID

from rindline._clock import Clock, RealClock
from rindline._making import Common, new_event
from rindline._telling_goods import TellingGoods
from rindline._telling_records import TellingRecords
from rindline_schema.events import Correct, Fact

__all__ = ["EventMaker", "Telling"]

F = TypeVar("F")
C = TypeVar("C")


class Telling(TellingGoods[F], TellingRecords[F], Generic[F, C]):
    """A method for each kind of event; keyword arguments as the event's fields.

    ``id``, ``at``, ``site``, ``note`` and ``override`` may be said with each; ``id`` is made and
    ``at`` is now where they are left out. ``F`` is what a fact becomes, ``C`` a correction.
    """

    @abstractmethod
    def _tell_correction(self, event: Correct) -> C: ...

    def correct(
        self,
        *,
        event: UUID,
        reason: str,
        replacement: Fact | None = None,
        **common: Unpack[Common],
    ) -> C:
        """An earlier event was wrong; ``replacement`` (of an :class:`EventMaker`) stands for it."""
        fields = {"event": event, "reason": reason, "replacement": replacement}
        return self._tell_correction(new_event(self._clock, Correct, common, fields))


class EventMaker(Telling[Fact, Correct]):
    """Makes events without telling them: for ``tell_many``, a file, or a replacement."""

    def __init__(self, clock: Clock | None = None) -> None:
        self._clock = clock or RealClock()

    def _tell_fact(self, event: Fact) -> Fact:
        return event

    def _tell_correction(self, event: Correct) -> Correct:
        return event
