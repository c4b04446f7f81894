"""Samples, results, holds, discards, cleaning."""

from collections.abc import Sequence

from rindline_schema.events import Clean, Discard, Fact, Hold, Release, Result, Sample
from rindline_server.ledger.entries import Effects
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.rules.lines import Lines

__all__ = [
    "check_clean",
    "check_sample",
    "discard_effects",
    "hold_effects",
    "release_effects",
    "result_effects",
    "sample_effects",
]


def check_sample(event: Sample, lookup: Lookup) -> None:
    """Refuse an unknown laboratory."""
    lookup.partner(event.laboratory, "laboratory")


def sample_effects(event: Sample) -> Effects:
    """Take the sample's mass."""
    lines = Lines(event)
    lines.entry("sample", event.lot, event.mass_g, detail=None)
    return lines.effects()


def result_effects(event: Fact, reference: str, facts: Sequence[Fact]) -> Effects:
    """Note a result in the history of the lot its sample was of; a failed one holds the lot.

    ``facts`` are all samples and results with this reference: the sample may be told later.
    """
    if not isinstance(event, Result):
        return Effects()
    lines = Lines(event)
    lots = {fact.lot for fact in facts if isinstance(fact, Sample)}
    for lot in sorted(lots):
        lines.entry("result", lot, detail=event.verdict)
        if event.verdict == "failed":
            reason = f"failed {event.test}, sample {reference}"
            lines.entry("hold", lot, spreads=event.spreads, detail=reason)
    return lines.effects()


def hold_effects(event: Hold) -> Effects:
    """Put each lot on hold."""
    lines = Lines(event)
    for lot in event.lots:
        lines.entry("hold", lot, spreads=event.spreads, detail=event.reason)
    return lines.effects()


def release_effects(event: Release) -> Effects:
    """Lift the hold named, or all that stand."""
    lines = Lines(event)
    for lot in event.lots:
        lines.entry("release", lot, detail=str(event.hold) if event.hold else None)
    return lines.effects()


def discard_effects(event: Discard) -> Effects:
    """Take what was thrown away, or lost on the way under a document."""
    lines = Lines(event)
    for item in event.lots:
        lines.entry(
            "discard",
            item.lot,
            item.mass_g,
            count=item.count,
            document=event.document.number if event.document else None,
            detail=event.reason[:200],
        )
    return lines.effects()


def check_clean(event: Clean, lookup: Lookup) -> None:
    """Refuse an unknown tool or room."""
    lookup.tool(event.tool)
    lookup.room(event.room, event.site or "")
