"""Discrepancies: what a person must look into, each with an id that stays the same."""

from hashlib import blake2b

from rindline_server.ledger.states import Found, LotRecord

__all__ = ["describe", "discrepancy_id", "growth"]


def discrepancy_id(lot: str, found: Found) -> str:
    """Give 24 hexadecimal digits that name a contradiction: same lot, kind and event, same id."""
    text = f"{found.kind}|{lot}|{found.event}"
    return blake2b(text.encode(), digest_size=12).hexdigest()


_SENTENCES = {
    "not_enough": "{grams} g more was taken of {lot} than it had",
    "before_it_existed": "something was done with {lot} before it existed",
    "places_overlap": "a part of {lot} was cut out twice",
    "not_here": "{lot} was handled where the record does not have it: an arrival may be untold",
    "heavier_than_before": "{lot} weighs {grams} g more than before",
    "arrival_differs": "{grams} g of {lot} left but did not arrive as the document says",
    "dispatch_not_told": "{grams} g of {lot} arrived under a document no dispatch was told for",
    "returned_more": "{grams} g more of {lot} came back than was sent",
}


def describe(lot: str, found: Found) -> str:
    """Say a contradiction in one sentence."""
    return _SENTENCES[found.kind].format(lot=lot, grams=found.grams)


def growth(before: LotRecord, after: LotRecord) -> list[Found]:
    """Give what does not fit in ``after`` and did not, or not as much, in ``before``."""
    if not after.found:
        return []
    known = {(found.kind, found.event): found.grams for found in before.found}
    return [
        found
        for found in after.found
        if (found.kind, found.event) not in known
        or abs(found.grams) > abs(known[found.kind, found.event])
    ]
