"""A piece cut and stamped: code, event on disk, label; in this order and no other."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Protocol
from uuid import UUID

from rindline._clock import Clock, RealClock
from rindline.errors import InvalidInputError
from rindline.outbox import Queued
from rindline_schema.codes import parse_lot_code
from rindline_schema.events import Piece, Place
from rindline_schema.labels import LabelContent, LabelFacts, make_label
from rindline_schema.quantities import PositiveGrams
from rindline_schema.registers import Product, Site

__all__ = ["Stamped", "Stamper"]


class _StampsCodes(Protocol):
    """Where codes come from: :meth:`rindline.Outbox.codes`."""

    def stamp(self, *, day: date | None = None) -> str: ...

    def spoil(self, code: str) -> None: ...


class _TellsCuts(Protocol):
    """Where the events go: an :class:`rindline.Outbox`."""

    def cut(
        self,
        *,
        lot: str,
        pieces: list[Piece],
        tool: str | None = None,
        room: str | None = None,
        weighed_g: PositiveGrams | None = None,
        finished: bool = False,
        site: str | None = None,
    ) -> Queued: ...


@dataclass(frozen=True, slots=True)
class Stamped:
    """A piece that has its code: its event's id and number in the outbox, what its label says."""

    lot: str
    event: UUID
    number: int
    label: LabelContent


class Stamper:
    """Stamps the pieces of one wheel.

    For each piece: the code is taken, the ``cut`` event is on disk, and only then ``put_label``
    is called. So whatever happens, no code is on two labels and every label's event is told.
    What ``put_label`` raises comes out of :meth:`stamp`: the piece is told, its label can be
    printed again. ``site`` is where the cutting happens.
    """

    def __init__(  # noqa: PLR0913 - what a wheel's pieces have in common
        self,
        outbox: _TellsCuts,
        codes: _StampsCodes,
        put_label: Callable[[LabelContent], object],
        *,
        lot: str,
        product: Product,
        site: Site,
        tool: str | None = None,
        room: str | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._outbox = outbox
        self._codes = codes
        self._put_label = put_label
        self._lot = lot
        self._product = product
        self._site = site
        self._tool = tool
        self._room = room
        self._clock = clock or RealClock()
        self.last: Stamped | None = None
        """The last piece that was told, with its label, also where that was not printed."""

    def stamp(
        self,
        mass_g: int,
        place: Place | None = None,
        *,
        weighed_g: int | None = None,
        finished: bool = False,
    ) -> Stamped:
        """Stamp a piece of ``mass_g`` grams from a place in the wheel.

        ``weighed_g`` is the wheel's mass on the scale just before, ``finished`` says that nothing
        is left of it. Raises what :meth:`rindline.Outbox.cut` and :meth:`rindline.outbox.Codes`
        raise; nothing was printed then.
        """
        code = self._codes.stamp()
        try:
            label = self._label(code, mass_g)
        except ValueError as error:
            self._codes.spoil(code)
            raise InvalidInputError(f"No label can be made: {error}. Nothing was told.") from error
        piece = Piece(product=self._product.code, mass_g=mass_g, lot=code, place=place)
        queued = self._outbox.cut(
            lot=self._lot,
            pieces=[piece],
            tool=self._tool,
            room=self._room,
            weighed_g=weighed_g,
            finished=finished,
            site=self._site.code,
        )
        self.last = Stamped(code, queued.id, queued.number, label)
        self._put_label(label)
        return self.last

    def _label(self, code: str, mass_g: int) -> LabelContent:
        return make_label(
            LabelFacts(
                kind="portion",
                product=self._product,
                site=self._site,
                lot=code,
                mass_g=mass_g,
                packed_on=parse_lot_code(code).day,
                wheels=[self._lot],
            )
        )
