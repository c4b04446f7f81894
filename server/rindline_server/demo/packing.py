"""After cutting: wedges into cases, trim into crumble, everything into the cold room."""

from collections.abc import Sequence

from rindline_schema.events import Blend, Clean, Input, Move, NewLot, Pack, Packed
from rindline_server.demo.dates import at
from rindline_server.demo.journal import Journal
from rindline_server.demo.registers import CUTTING
from rindline_server.demo.scale import Scale
from rindline_server.demo.things import Case, Piece, Stock

__all__ = ["blend_trim", "clean_up", "pack_wedges", "put_away"]

_TUB_G = 150
_LOTS_AN_EVENT = 1_000


def pack_wedges(journal: Journal, scale: Scale, stock: Stock, day: int) -> None:
    """Pack full cases, in the order of cutting: a case may hold wedges of two wheels."""
    size = scale.wedges_a_case
    full = len(stock.wedges) // size
    for i in range(full):
        pieces = stock.wedges[i * size : (i + 1) * size]
        moment = at(day, 14, i)
        case = Case(journal.new_case(), pieces)
        journal.add(
            Pack(
                id=journal.new_id(moment),
                at=moment,
                site=CUTTING,
                case=case.code,
                lots=[Packed(lot=p.lot, count=1, mass_g=p.mass_g) for p in pieces],
            )
        )
        stock.cases.append(case)
    stock.wedges = stock.wedges[full * size :]


def put_away(journal: Journal, pieces: Sequence[Piece], day: int) -> None:
    """Move what was cut into the cold room."""
    for i in range(0, len(pieces), _LOTS_AN_EVENT):
        moment = at(day, 17, i // _LOTS_AN_EVENT)
        journal.add(
            Move(
                id=journal.new_id(moment),
                at=moment,
                site=CUTTING,
                lots=[piece.lot for piece in pieces[i : i + _LOTS_AN_EVENT]],
                room="QC-CHILL",
            )
        )


def blend_trim(journal: Journal, stock: Stock, day: int) -> None:
    """Work the trim of the week into tubs of crumble."""
    trim = stock.trim
    if not trim:
        return
    moment = at(day, 18, 30)
    # One part in a hundred sticks to the drum.
    tubs = sum(piece.mass_g for piece in trim) * 99 // 100 // _TUB_G
    lot = journal.new_lot(CUTTING, moment, "blend")
    crumble = Piece(lot, "QB-CRUMBLE", tubs * _TUB_G, 0, tubs)
    journal.add(
        Blend(
            id=journal.new_id(moment),
            at=moment,
            site=CUTTING,
            inputs=[Input(lot=piece.lot, mass_g=piece.mass_g, count=1) for piece in trim],
            outputs=[NewLot(product=crumble.product, mass_g=crumble.mass_g, count=tubs, lot=lot)],
            tool="QC-CRUMBLER",
            room="QC-CHILL",
        )
    )
    stock.trim = []
    stock.crumble.append(crumble)


def clean_up(journal: Journal, day: int) -> None:
    """Clean what touched cheese, and the room."""
    for i, (tool, room) in enumerate((("QC-CUTTER", None), ("QC-WIRE", None), (None, "QC-CUT"))):
        moment = at(day, 17, 30 + i * 10)
        journal.add(
            Clean(
                id=journal.new_id(moment),
                at=moment,
                site=CUTTING,
                method="foam, rinsed, disinfected",
                tool=tool,
                room=room,
            )
        )
