"""Holds of a lot from its entries: which were put on it, and until when."""

from collections.abc import Iterable

from rindline_server.ledger.entries import Entry
from rindline_server.ledger.states import HoldSpan

__all__ = ["fold_holds"]


def fold_holds(ordered: Iterable[Entry]) -> tuple[tuple[HoldSpan, ...], tuple[int, ...]]:
    """Give the spans of all holds on the lot, and the times it was cleared of all holds.

    ``ordered`` are the lot's entries in order of time. A release that names no hold ends all
    that stand, and clears the lot of all it inherited until then. One that names a hold ends
    that one alone; if it was put on an ancestor, the span begins and ends with the release.
    """
    spans: dict[str, HoldSpan] = {}
    cleared: list[int] = []
    for entry in ordered:
        if entry.kind == "hold":
            spans[entry.event] = HoldSpan(
                entry.event, entry.at_us, None, entry.spreads, entry.detail or ""
            )
        elif entry.kind == "release":
            if entry.detail is None:
                cleared.append(entry.at_us)
                ended = tuple(spans)
            else:
                lifted = HoldSpan(entry.detail, entry.at_us, entry.at_us, spreads=False, reason="")
                spans.setdefault(entry.detail, lifted)
                ended = (entry.detail,)
            for event in ended:
                spans[event] = _until(spans[event], entry.at_us)
    return tuple(spans.values()), tuple(dict.fromkeys(cleared))


def _until(span: HoldSpan, at_us: int) -> HoldSpan:
    if span.until_us is not None:
        return span
    return HoldSpan(span.event, span.since_us, at_us, span.spreads, span.reason)
