"""Holds of a lot from its entries: which were put on it, and until when."""

from collections.abc import Iterable

from rindline_server.ledger.entries import Entry
from rindline_server.ledger.states import HoldSpan

__all__ = ["fold_holds"]


def fold_holds(ordered: Iterable[Entry]) -> tuple[tuple[HoldSpan, ...], tuple[int, ...]]:
    """Give the spans of all holds on the lot, and the times it was cleared by a release.

    ``ordered`` are the lot's entries in order of time. A release that names a hold ends that
    one, else all that stand then; either clears the lot of what it inherited until then.
    """
    spans: dict[str, HoldSpan] = {}
    cleared: list[int] = []
    for entry in ordered:
        if entry.kind == "hold":
            spans[entry.event] = HoldSpan(
                entry.event, entry.at_us, None, entry.spreads, entry.detail or ""
            )
        elif entry.kind == "release":
            cleared.append(entry.at_us)
            for event, span in spans.items():
                if span.until_us is None and entry.detail in (None, event):
                    spans[event] = HoldSpan(
                        event, span.since_us, entry.at_us, span.spreads, span.reason
                    )
    return tuple(spans.values()), tuple(cleared)
