"""Lots, origins, traces and discrepancies as people read them."""

from collections.abc import Iterable

from rindline.cli._figures import kilograms, local_time, share, words
from rindline.cli._screen import Screen
from rindline_schema.answers import (
    Discrepancy,
    HeldBecause,
    Holder,
    KindCount,
    LotAnswer,
    LotSummary,
    OriginAnswer,
    TraceAnswer,
)

__all__ = [
    "show_counts",
    "show_discrepancies",
    "show_lot",
    "show_lots",
    "show_origin",
    "show_trace",
]

_LOST = {
    "into_lots_g": "into other lots",
    "ripening_loss_g": "ripening loss",
    "drained_g": "drained",
    "cutting_loss_g": "cutting loss",
    "samples_g": "samples",
    "discarded_g": "discarded",
    "unaccounted_g": "unaccounted for",
}


def show_lots(screen: Screen, lots: Iterable[LotSummary]) -> None:
    """Print lots as a list."""
    rows = [
        (
            lot.lot,
            lot.kind,
            words(lot.state),
            lot.product or "",
            lot.site,
            local_time(lot.made_at),
            str(lot.count),
            kilograms(lot.mass_g),
            "on hold" if lot.held else "",
        )
        for lot in lots
    ]
    columns = ("Lot", "Kind", "State", "Product", "Site", "Made", ">Pieces now", ">kg now", "Hold")
    screen.table("Lots", columns, rows, none="none that fits")


def show_lot(screen: Screen, lot: LotAnswer) -> None:
    """Print what is known of one lot."""
    screen.facts(
        [
            ("Lot", lot.lot),
            ("Kind", lot.kind),
            ("State", words(lot.state)),
            ("Product", _named(lot.product, lot.product_name)),
            ("Site", lot.site),
            ("Made", local_time(lot.made_at)),
            ("Made, pieces", str(lot.made_count)),
            ("Made, kg", kilograms(lot.made_g)),
        ]
    )
    rows = [
        (*_holder(holder), str(holder.count), kilograms(holder.mass_g)) for holder in lot.holders
    ]
    screen.table("Who holds it", ("Where", "Holder", "Room", ">Pieces", ">kg"), rows)
    gone = [
        (text, kilograms(getattr(lot.losses, name)))
        for name, text in _LOST.items()
        if getattr(lot.losses, name)
    ]
    screen.table("What became of the rest", ("", ">kg"), gone)
    _show_holds(screen, lot.holds)
    show_discrepancies(screen, lot.discrepancies)


def show_origin(screen: Screen, origin: OriginAnswer) -> None:
    """Print where a lot came from."""
    screen.facts(
        [
            ("Lot", origin.lot),
            ("Kind", origin.kind),
            ("State", words(origin.state)),
            ("Product", _named(origin.product, origin.product_name)),
            ("Site", origin.site),
            ("Made", local_time(origin.made_at)),
            ("Age, days", "" if origin.age_days is None else str(origin.age_days)),
            ("Made, kg", kilograms(origin.made_g)),
        ]
    )
    _show_holds(screen, origin.holds)
    screen.table(
        "Wheels",
        ("Lot", "Made", ">kg made"),
        [(lot.lot, local_time(lot.made_at), kilograms(lot.made_g)) for lot in origin.wheels],
    )
    screen.table(
        "Makes",
        ("Lot", "Site", "Made", "Milk was"),
        [
            (lot.lot, lot.site, local_time(lot.made_at), lot.milk_treatment or "")
            for lot in origin.makes
        ],
    )
    screen.table(
        "Milk",
        ("Lot", "Supplier", "Received", ">Share in %", ""),
        [
            (
                milk.lot,
                _named(milk.supplier, milk.supplier_name),
                local_time(milk.received_at),
                share(milk.share_ppm),
                "not yet recorded" if milk.pending else "",
            )
            for milk in origin.milk
        ],
        none="none is known",
    )
    screen.table(
        "Ingredients",
        ("Lot", "Product", "Supplier"),
        [
            (
                part.lot,
                _named(part.product, part.product_name),
                _named(part.supplier, part.supplier_name),
            )
            for part in origin.ingredients
        ],
    )
    screen.table("Not yet recorded", ("Lot",), [(lot,) for lot in origin.pending])
    screen.line(origin.safety_note, style="italic")


def show_trace(screen: Screen, trace: TraceAnswer, *, edges: bool) -> None:
    """Print a trace: counts, lots by distance, and what went into what if asked."""
    screen.line(f"Trace {trace.direction} from {trace.lot}, as of event {trace.as_of}")
    show_counts(screen, trace.counts)
    screen.table(
        "Lots",
        (">Steps", "Lot", "Kind", "State", "Product", "Made", ">kg made", "Held by", "Hold"),
        [
            (
                str(lot.steps),
                lot.lot,
                lot.kind,
                words(lot.state),
                lot.product or "",
                local_time(lot.made_at),
                kilograms(lot.made_g),
                "; ".join(_held_by(holder) for holder in lot.holders),
                "on hold" if lot.held else "",
            )
            for lot in trace.lots
        ],
    )
    if edges:
        rows = [(edge.parent, edge.child, kilograms(edge.mass_g)) for edge in trace.edges]
        screen.table("What went into what", ("From lot", "Into lot", ">kg"), rows, none="nothing")


def show_counts(screen: Screen, counts: Iterable[KindCount]) -> None:
    """Print how many lots of each kind."""
    rows = [
        (count.kind, str(count.lots), str(count.pending), kilograms(count.made_g))
        for count in counts
    ]
    screen.table("Lots reached", ("Kind", ">Lots", ">Of these not yet recorded", ">kg made"), rows)


def show_discrepancies(
    screen: Screen, discrepancies: Iterable[Discrepancy], none: str = ""
) -> None:
    """Print discrepancies."""
    rows = [
        (
            found.discrepancy,
            words(found.kind),
            found.lot,
            kilograms(found.grams),
            found.detail,
            (found.finding or "settled") if found.settled else "open",
        )
        for found in discrepancies
    ]
    columns = ("Discrepancy", "Kind", "Lot", ">kg", "What", "Finding")
    screen.table("Discrepancies", columns, rows, none=none)


def _show_holds(screen: Screen, holds: Iterable[HeldBecause]) -> None:
    rows = [(hold.lot, local_time(hold.since), hold.reason) for hold in holds]
    screen.table("On hold", ("By the hold on", "Since", "Reason"), rows)


def _named(code: str | None, name: str | None) -> str:
    return f"{code} ({name})" if code and name else code or name or ""


def _holder(holder: Holder) -> tuple[str, str, str]:
    where = {"site": "on hand", "transit": "in transit", "partner": "with a partner"}
    return where[holder.where], holder.holder, holder.room or ""


def _held_by(holder: Holder) -> str:
    place = f"{holder.holder} {holder.room}" if holder.room else holder.holder
    where = "in transit, " if holder.where == "transit" else ""
    return f"{where}{place} {kilograms(holder.mass_g)} kg"
