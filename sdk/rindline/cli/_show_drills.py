"""A recall drill as people read it, and the list of drills."""

from collections.abc import Iterable

from rindline.cli._figures import kilograms, local_time, percent_at_least
from rindline.cli._screen import Screen
from rindline.cli._show_lots import show_counts, show_discrepancies
from rindline_schema.answers import DrillAnswer, DrillSummary

__all__ = ["show_drill", "show_drills"]

_STAGE_ROWS = {
    "made_g": "Made",
    "on_hand_g": "On hand",
    "in_transit_g": "In transit",
    "with_customers_g": "With customers",
    "into_lots_g": "Into other lots",
    "into_traced_g": "  of these, in this trace",
    "into_trim_g": "  of these, into trim",
    "drained_g": "Drained",
    "ripening_loss_g": "Ripening loss",
    "cutting_loss_g": "Cutting loss",
    "samples_g": "Samples",
    "discarded_g": "Discarded",
    "unaccounted_g": "Unaccounted for",
}
# Enough to see who is meant; the whole list is in --json.
_LOTS_SHOWN = 3
_GAPS_SHOWN = 5


def show_drill(screen: Screen, drill: DrillAnswer) -> None:
    """Print a drill: counts, holders, mass balance, what is amiss, how long it took."""
    if drill.purpose == "live":
        screen.line("LIVE: a real withdrawal or recall, not a drill", style="bold red")
    screen.facts(
        [
            ("Drill", str(drill.id)),
            ("From lots", _lots(drill.lots)),
            ("Direction", drill.direction),
            ("Reason", drill.reason or ""),
            ("Asked", f"{local_time(drill.asked_at)} by {drill.asked_by}"),
            ("As of event", str(drill.as_of)),
            ("Lots on hold", str(drill.held_lots)),
        ]
    )
    show_counts(screen, drill.counts)
    _show_holders(screen, drill)
    _show_stages(screen, drill)
    rows = [(lot,) for lot in drill.pending]
    screen.table("Not yet recorded", ("Lot",), rows, none="none")
    show_discrepancies(screen, drill.discrepancies, none="none")
    _show_stations(screen, drill)
    screen.line(f"Answered in {drill.took_ms} ms.")
    screen.line(drill.safety_note, style="italic")


def _show_stations(screen: Screen, drill: DrillAnswer) -> None:
    """Name the stations that have not told everything: their goods are not in the figures."""
    rows = [
        (
            station.name,
            station.site or "",
            local_time(outbox.last_heard_at),
            str(outbox.queued + outbox.set_aside),
            ", ".join(f"{gap.first} to {gap.last}" for gap in outbox.missing[:_GAPS_SHOWN]),
        )
        for station in drill.stations_behind
        for outbox in station.outboxes
        if outbox.queued or outbox.set_aside or outbox.missing
    ]
    columns = ("Station", "Site", "Last spoke", ">Held back", "Missing numbers")
    screen.table("Stations that have not told everything", columns, rows, none="none")


def show_drills(screen: Screen, drills: Iterable[DrillSummary]) -> None:
    """Print a list of drills."""
    rows = [
        (
            str(drill.id),
            drill.purpose,
            drill.direction,
            _lots(drill.lots),
            local_time(drill.asked_at),
            drill.asked_by,
            str(drill.took_ms),
        )
        for drill in drills
    ]
    columns = ("Drill", "Purpose", "Direction", "From lots", "Asked", "By", ">Took in ms")
    screen.table("Drills", columns, rows, none="none was run")


def _show_holders(screen: Screen, drill: DrillAnswer) -> None:
    screen.table(
        "On hand",
        ("Site", "Room", ">Lots", ">Pieces", ">kg"),
        [
            (at.site, at.room or "", str(at.lots), str(at.count), kilograms(at.mass_g))
            for at in drill.on_hand
        ],
        none="nothing",
    )
    screen.table(
        "In transit",
        ("Document", "To site", ">Lots", ">Pieces", ">kg"),
        [
            (on.document, on.to_site or "", str(on.lots), str(on.count), kilograms(on.mass_g))
            for on in drill.in_transit
        ],
        none="nothing",
    )
    screen.table(
        "With customers, returns taken off",
        ("Customer", "Name", "Address", ">Lots", ">Pieces", ">kg"),
        [
            (
                customer.customer,
                customer.name or "",
                customer.address or "",
                str(customer.lots),
                str(customer.count),
                kilograms(customer.mass_g),
            )
            for customer in drill.customers
        ],
        none="nothing",
    )
    screen.table(
        "Documents to customers",
        ("Customer", "Document", "Dispatched", ">Lots", ">Pieces", ">kg"),
        [
            (
                customer.customer,
                f"{document.kind} {document.number}",
                local_time(document.dispatched_at),
                str(document.lots),
                str(document.count),
                kilograms(document.mass_g),
            )
            for customer in drill.customers
            for document in customer.documents
        ],
    )


def _show_stages(screen: Screen, drill: DrillAnswer) -> None:
    """Print a column for each kind of lot: what was made, and where every gram of it is."""
    if not drill.stages:
        return
    rows = [
        (title, *(kilograms(getattr(stage, name)) for stage in drill.stages))
        for name, title in _STAGE_ROWS.items()
    ]
    accounted = [percent_at_least(stage.accounted_pct) for stage in drill.stages]
    columns = ("", *(f">{stage.kind}" for stage in drill.stages))
    screen.table("Mass balance in kg", columns, [*rows, ("Accounted for, %", *accounted)])


def _lots(lots: list[str]) -> str:
    more = f" and {len(lots) - _LOTS_SHOWN} more" if len(lots) > _LOTS_SHOWN else ""
    return ", ".join(lots[:_LOTS_SHOWN]) + more
