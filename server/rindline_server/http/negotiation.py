"""Content negotiation (RFC 9110, section 12.5) and entity tags (section 8.8.3)."""

from collections.abc import Sequence
from hashlib import blake2b

__all__ = ["entity_tag", "matches", "preferred_type", "takes_gzip"]


def preferred_type(accept: bytes | None, offered: Sequence[str]) -> str:
    """Choose among media types by an Accept header; the first offered if none is wanted.

    A header that accepts none of them is disregarded, as section 12.5.1 allows.
    """
    if not accept:
        return offered[0]
    wishes = _weights(accept)
    best, best_weight = offered[0], 0.0
    for offer in offered:
        ranges = (offer, offer.partition("/")[0] + "/*", "*/*")
        weight = next((wishes[name] for name in ranges if name in wishes), 0.0)
        if weight > best_weight:
            best, best_weight = offer, weight
    return best


def takes_gzip(accept_encoding: bytes | None) -> bool:
    """Tell whether a caller would rather have gzip than the plain body."""
    if not accept_encoding:
        return False
    wishes = _weights(accept_encoding)
    weight = wishes.get("gzip", wishes.get("*", 0.0))
    return weight > 0 and weight >= wishes.get("identity", 0.0)


def entity_tag(*parts: bytes) -> str:
    """Give a strong entity tag that stands for these parts: 16 bytes of BLAKE2b in hex."""
    digest = blake2b(digest_size=16)
    for part in parts:
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return f'"{digest.hexdigest()}"'


def matches(if_none_match: bytes | None, tag: str) -> bool:
    """Tell whether an If-None-Match header names this tag (weak comparison, section 13.1.2)."""
    if if_none_match is None:
        return False
    given = if_none_match.decode("latin-1")
    return given.strip() == "*" or tag in (
        part.strip().removeprefix("W/") for part in given.split(",")
    )


def _weights(header: bytes) -> dict[str, float]:
    weights: dict[str, float] = {}
    for part in header.decode("latin-1").lower().split(",")[:50]:
        name, *parameters = (piece.strip() for piece in part.split(";"))
        weight = 1.0
        for parameter in parameters:
            if parameter.startswith("q="):
                try:
                    weight = float(parameter[2:])
                except ValueError:
                    weight = 0.0
        weights[name] = weight
    return weights
