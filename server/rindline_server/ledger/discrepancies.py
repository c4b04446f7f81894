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
    "packed_twice": "{grams} g more of {lot} lies in cases than there is",
    "not_packed": "{grams} g more of {lot} came out of cases than went into them",
}
_ARRIVED_MORE = "{grams} g more of {lot} arrived than left under that document"


def describe(lot: str, found: Found) -> str:
    """Say a contradiction in one sentence."""
    sentence = _SENTENCES[found.kind]
    if found.kind == "arrival_differs" and found.grams < 0:
        sentence = _ARRIVED_MORE
    return sentence.format(lot=lot, grams=abs(found.grams))


_SHORT = ("not_here", "not_enough")


def growth(before: LotRecord, after: LotRecord) -> list[Found]:
    """Give what does not fit in ``after`` and did not, or not as much, in ``before``.

    Goods missing where an event took them are one shortage, whether an arrival may still explain
    it or not any more: what was missing already is not the doing of whoever comes now.
    """
    if not after.found:
        return []
    known: dict[tuple[str, str], int] = {}
    for found in before.found:
        key = _shortage_key(found)
        known[key] = max(known.get(key, 0), abs(found.grams))
    return [
        found
        for found in after.found
        if _shortage_key(found) not in known or abs(found.grams) > known[_shortage_key(found)]
    ]


def _shortage_key(found: Found) -> tuple[str, str]:
    return "short" if found.kind in _SHORT else found.kind, found.event
