"""Two makes, four wheels, and all that may become of them, with figures that can be checked."""

from dataclasses import dataclass

from rindline_schema.events import (
    Arrive,
    Blend,
    Correct,
    Cut,
    Declare,
    Discard,
    Discarded,
    Dispatch,
    Document,
    Event,
    Hold,
    Input,
    Iron,
    Line,
    NewLot,
    Piece,
    Receive,
    Release,
    Sample,
    Weigh,
)
from rindline_schema.registers import Site
from tests.service.dairy import Dairy

__all__ = ["Story"]


@dataclass(frozen=True)
class Story:
    """The events in parts, as they might be told one after the other, and the codes of lots."""

    parts: list[list[Event]]
    milk_a: str
    milk_b: str
    make_1: str
    make_2: str
    wheels: list[str]
    portions: list[str]
    untold_wheel: str
    crumble: str

    @property
    def events(self) -> list[Event]:
        """All events in one list."""
        return [event for part in self.parts for event in part]

    @property
    def lots(self) -> list[str]:
        """Every lot the parts mention, in no particular order."""
        return [
            *(self.milk_a, self.milk_b, self.make_1, self.make_2, *self.wheels),
            *(*self.portions, self.untold_wheel, self.crumble),
        ]

    @classmethod
    def of(cls, dairy: Dairy) -> "Story":
        """Tell the story at this dairy."""
        milk_a, milk_b = dairy.milk(60_000, "HERD-A"), dairy.milk(90_000, "HERD-B")
        make_1 = dairy.make((milk_a.lot, 40_000), (milk_b.lot, 60_000))
        make_2 = dairy.make((milk_a.lot, 20_000), (milk_b.lot, 20_000))
        hoop_1 = dairy.hoop(make_1.lot, [5_000, 5_000, 5_000], whey_g=80_000)
        hoop_2 = dairy.hoop(make_2.lot, [4_000])
        wheels = [wheel.lot or "" for wheel in (*hoop_1.wheels, *hoop_2.wheels)]
        parts: list[list[Event]] = [
            dairy.declared(),
            [milk_a, milk_b, make_1, make_2],
            [hoop_1, hoop_2],
        ]
        parts.append(
            [
                dairy.event(Weigh, lot=wheels[0], mass_g=4_800),
                dairy.event(Iron, lot=wheels[1], plug_g=10, grade="fine"),
                dairy.event(Sample, lot=wheels[2], reference="S-1", mass_g=50),
            ]
        )
        wrong = dairy.cut(wheels[1], dairy.piece(1_000))
        parts.append([wrong])
        first, second = dairy.piece(2_000, n=8), dairy.piece(1_500, n=2)
        trim_1, trim_2 = dairy.piece(1_000, "trim"), dairy.piece(1_500, "trim")
        third = dairy.piece(2_000, n=4)
        parts.append(
            [
                dairy.cut(wheels[0], first, second, trim_1, loss_g=20, finished=True),
                dairy.cut(wheels[3], third, trim_2, loss_g=10),
            ]
        )
        smaller = [dairy.piece(700), dairy.piece(700)]
        recut = dairy.cut(second.lot, *smaller)
        crumble = NewLot(product="CRUMBLE", lot=dairy.code("blend"), mass_g=1_900, count=10)
        blend = dairy.event(
            Blend,
            inputs=[
                Input(lot=trim_1.lot or "", mass_g=800),
                Input(lot=trim_2.lot or "", mass_g=1_200),
            ],
            outputs=[crumble],
        )
        parts.append([recut, blend])
        parts.append(_shipped(dairy, first.lot, third.lot, crumble.lot))
        untold = dairy.code("wheel")
        orphan = dairy.piece(900)
        parts.append(
            [
                dairy.event(
                    Discard, lots=[Discarded(lot=smaller[1].lot or "")], reason="fell on the floor"
                ),
                dairy.cut(untold, orphan),
                dairy.event(Weigh, lot=wheels[2], mass_g=5_500),
            ]
        )
        right = dairy.piece(1_100)
        parts += _held_and_corrected(dairy, milk_a, wrong, right, wheels[0])
        pieces = [*wrong.pieces, first, second, third, right, *smaller, orphan, trim_1, trim_2]
        return cls(
            parts=parts,
            milk_a=milk_a.lot or "",
            milk_b=milk_b.lot or "",
            make_1=make_1.lot or "",
            make_2=make_2.lot or "",
            wheels=wheels,
            portions=[piece.lot or "" for piece in pieces],
            untold_wheel=untold,
            crumble=crumble.lot or "",
        )


def _held_and_corrected(
    dairy: Dairy, milk: Receive, wrong: Cut, right: Piece, released: str
) -> list[list[Event]]:
    """The milk put on hold; a cut corrected and a wheel released; a site's name changed."""
    hold = dairy.event(Hold, lots=[milk.lot], reason="the herd's milk was warm")
    replacement = dairy.cut(wrong.lot, right, at=wrong.at)
    return [
        [hold],
        [
            dairy.event(Correct, event=wrong.id, reason="misread scale", replacement=replacement),
            dairy.event(Release, lots=[released], reason="tested", hold=hold.id),
        ],
        [dairy.event(Declare, entry=Site(code="QM", name="Quillmere Dairy"))],
    ]


def _shipped(
    dairy: Dairy, first: str | None, third: str | None, crumble: str | None
) -> list[Event]:
    """Portions to both shops, one of which sends some back, and crumble on its way between sites.

    Of the first lot SHOP-A gets 1,000 g and SHOP-B the other 1,000 g.
    """
    return [
        dairy.event(
            Dispatch,
            lines=[Line(lot=first, count=4, mass_g=1_000)],
            document=Document(number="DN-1"),
            to="SHOP-A",
        ),
        dairy.event(
            Dispatch, lines=[Line(lot=first)], document=Document(number="DN-2"), to="SHOP-B"
        ),
        dairy.event(
            Dispatch,
            lines=[Line(lot=third, count=1, mass_g=500)],
            document=Document(number="DN-3"),
            to="SHOP-A",
        ),
        dairy.event(
            Arrive, lines=[Line(lot=first, count=1, mass_g=250)], returned_by="SHOP-A", room="CAVE"
        ),
        dairy.event(
            Dispatch,
            lines=[Line(lot=crumble, count=4, mass_g=760)],
            document=Document(number="T-1"),
            to_site="QR",
        ),
    ]
