"""Labels printed: kept in the lot's history, so that a second one surprises nobody."""

from rindline_schema.events import Label
from rindline_server.ledger.entries import Effects
from rindline_server.ledger.rules.lines import Lines

__all__ = ["label_effects"]


def label_effects(event: Label) -> Effects:
    """Note the printing; a case's label is in the ledger alone."""
    lines = Lines(event)
    if event.lot is not None:
        lines.entry("label", event.lot, detail="reprint" if event.reason else None)
    return lines.effects()
