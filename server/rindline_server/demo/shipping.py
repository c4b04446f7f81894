"""Goods to the shops, and one case back."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import cycle
from typing import NamedTuple

from rindline_schema.events import Arrive, Discard, Discarded, Dispatch, Document, Line, Unpack
from rindline_server.demo.dates import at
from rindline_server.demo.journal import Journal
from rindline_server.demo.registers import CUTTING, SHOPS, WHOLESALE
from rindline_server.demo.things import Case, Piece, Stock

__all__ = ["DISPATCH_DAYS", "RETURN_DAY", "Shipped", "tell_dispatches", "tell_return"]

DISPATCH_DAYS = (67, 71, 74, 78, 81)
"""Tuesdays and Fridays, early, from the end of the first week of cutting on."""

RETURN_DAY = 79

_SIZES = {code: size for code, _, _, size in SHOPS}
_COUNTERS = tuple(code for code, size in _SIZES.items() if size >= 3)


class Shipped(NamedTuple):
    """A case and the shop it went to."""

    day: int
    shop: str
    case: Case


def _turns() -> Iterator[str]:
    """Give the shops in turn, for ever, the larger ones as much more often as they are larger."""
    rounds = range(max(_SIZES.values()))
    return cycle([code for turn in rounds for code, size in _SIZES.items() if size > turn])


def tell_dispatches(journal: Journal, stock: Stock, day: int) -> list[Shipped]:
    """Send out all but every tenth case, and most of all else; gives where the cases went."""
    lines: dict[str, list[Line]] = {code: [] for code in _SIZES}
    sent: list[Shipped] = []
    turns = _turns()
    left: list[Case] = []
    for i, case in enumerate(stock.cases):
        if i % 10 == 9:
            left.append(case)
            continue
        shop = next(turns)
        lines[shop].append(Line(case=case.code))
        sent.append(Shipped(day, shop, case))
    stock.cases = left
    _deal_larger(stock, lines)
    _deal_crumble(stock, lines)
    for order, (shop, goods) in enumerate(lines.items()):
        if goods:
            _tell_dispatch(journal, at(day, 5, 30 + order * 2), shop, goods)
    return sent


def _deal_larger(stock: Stock, lines: dict[str, list[Line]]) -> None:
    """Deal out wheels to the wholesaler, halves to large counters, eighths to all counters."""
    for wheel in stock.whole:
        lines[WHOLESALE].append(Line(lot=wheel.lot))
    stock.whole = []
    halves = [piece for piece in stock.larger if piece.product == "QB-HALF"]
    eighths = [piece for piece in stock.larger if piece.product == "QB-EIGHTH"]
    # A few eighths stay in stock for orders of wedges.
    going = eighths[: len(eighths) * 4 // 5]
    for shop, piece in zip(cycle(_COUNTERS), halves, strict=False):
        lines[shop].append(_whole_lot(piece))
    for shop, piece in zip(cycle(_SIZES), going, strict=False):
        lines[shop].append(_whole_lot(piece))
    stock.larger = eighths[len(going) :]


def _deal_crumble(stock: Stock, lines: dict[str, list[Line]]) -> None:
    """Deal out half of the tubs of each lot of crumble."""
    for crumble in stock.crumble:
        each = crumble.count // 2 // len(_COUNTERS)
        tub_g = crumble.mass_g // crumble.count
        for shop in _COUNTERS if each else ():
            lines[shop].append(Line(lot=crumble.lot, count=each, mass_g=each * tub_g))
            crumble.count -= each
            crumble.mass_g -= each * tub_g


def _whole_lot(piece: Piece) -> Line:
    return Line(lot=piece.lot, count=piece.count, mass_g=piece.mass_g)


def _tell_dispatch(journal: Journal, moment: datetime, shop: str, lines: Sequence[Line]) -> None:
    journal.add(
        Dispatch(
            id=journal.new_id(moment),
            at=moment,
            site=CUTTING,
            lines=list(lines),
            document=Document(number=journal.new_number("DN")),
            to=shop,
            carrier="WENDLEMOOR",
            temperature_c=journal.dice.between(25, 45) / 10,
        )
    )


def tell_return(journal: Journal, sent: Sequence[Shipped], makes: tuple[int, ...]) -> Shipped:
    """A shop sends a case back that had stood in the sun; it is thrown away the day after.

    It is a case with wedges of one of ``makes``; gives which.
    """
    back = next(
        item
        for item in sent
        if item.shop != WHOLESALE
        and item.day < RETURN_DAY
        and any(piece.make in makes for piece in item.case.pieces)
    )
    coming, opened, thrown = at(RETURN_DAY, 11), at(RETURN_DAY, 11, 20), at(RETURN_DAY + 1, 9)
    journal.add(
        Arrive(
            id=journal.new_id(coming),
            at=coming,
            site=CUTTING,
            lines=[Line(case=back.case.code)],
            returned_by=back.shop,
            room="QC-CHILL",
            temperature_c=14.5,
            note="Had stood in the sun; note of the shop 118.",
        )
    )
    journal.add(Unpack(id=journal.new_id(opened), at=opened, site=CUTTING, case=back.case.code))
    journal.add(
        Discard(
            id=journal.new_id(thrown),
            at=thrown,
            site=CUTTING,
            lots=[Discarded(lot=piece.lot) for piece in back.case.pieces],
            reason="came back too warm",
            method="rendered",
        )
    )
    return back
