"""Digital Link URIs: the elements of a symbol as a web address (GS1 Digital Link, URI syntax).

The path holds a primary key and its qualifiers in a set order, the query everything else.
"""

from collections.abc import Sequence
from urllib.parse import parse_qsl, quote, unquote, urlsplit

from rindline_schema.gs1.elements import Element, element_faults
from rindline_schema.gs1.identifiers import identifier

__all__ = ["DIGITAL_LINK_BASE", "digital_link", "parse_digital_link"]

DIGITAL_LINK_BASE = "https://id.gs1.org"
"""The resolver that GS1 runs; a business may use its own address instead."""

# Each primary key with the qualifiers that may follow it, in this order.
_QUALIFIERS: dict[str, tuple[str, ...]] = {"01": ("22", "10", "21"), "00": (), "414": ("254",)}


def digital_link(elements: Sequence[Element], base: str = DIGITAL_LINK_BASE) -> str:
    """Write elements as a URI under ``base`` (scheme, host, perhaps a path, no slash at the end).

    Raises ValueError if they are not valid, or if none of them is a primary key.
    """
    faults = element_faults(elements)
    if faults:
        raise ValueError("; ".join(faults))
    if not _is_base(base):
        raise ValueError(f"{base!r} is not an address such as {DIGITAL_LINK_BASE}")
    values = dict(elements)
    key = next((ai for ai in _QUALIFIERS if ai in values), None)
    if key is None:
        raise ValueError("a Digital Link needs a GTIN, an SSCC or a location number")
    path = [key, *(ai for ai in _QUALIFIERS[key] if ai in values)]
    steps = "".join(f"/{ai}/{quote(values[ai], safe='')}" for ai in path)
    query = "&".join(f"{ai}={quote(value, safe='')}" for ai, value in elements if ai not in path)
    return f"{base}{steps}{'?' if query else ''}{query}"


def _is_base(base: str) -> bool:
    parts = urlsplit(base)
    return (
        parts.scheme in ("http", "https")
        and bool(parts.netloc)
        and not parts.query
        and not parts.fragment
        and not base.endswith("/")
    )


def parse_digital_link(uri: str) -> list[Element]:
    """Read the elements of a URI, wherever it is served; parameters without an AI are left out.

    Raises ValueError, with what is wrong, if it is not a valid Digital Link URI.
    """
    parts = urlsplit(uri)
    if parts.scheme not in ("http", "https") or not parts.netloc:
        raise ValueError(f"{uri!r} is not a web address")
    found = _path_elements(parts.path)
    key = found[0].ai
    # keep_blank_values: an identifier without a value is a fault to name, not to pass over.
    for name, value in parse_qsl(parts.query, keep_blank_values=True):
        if not (name.isascii() and name.isdigit()):
            continue
        if name == key or name in _QUALIFIERS[key] or name in _QUALIFIERS:
            raise ValueError(f"({name}) belongs in the path, not in the query")
        found.append(Element(name, value))
    faults = element_faults(found)
    if faults:
        raise ValueError("; ".join(faults))
    return found


def _path_elements(path: str) -> list[Element]:
    steps = path.split("/")[1:]
    if steps and steps[-1] == "":
        raise ValueError("the path ends with a slash")
    # What stands before the primary key is the address of whoever serves the link.
    starts = [
        i for i, step in enumerate(steps) if step in _QUALIFIERS and (len(steps) - i) % 2 == 0
    ]
    if not starts:
        raise ValueError("no primary key (GTIN, SSCC or location number) stands in the path")
    pairs = steps[starts[0] :]
    found = [Element(ai, unquote(value)) for ai, value in zip(pairs[::2], pairs[1::2], strict=True)]
    _prove_order(found)
    return found


def _prove_order(found: Sequence[Element]) -> None:
    key = found[0].ai
    allowed = _QUALIFIERS[key]
    places = []
    for ai, _ in found[1:]:
        if ai not in allowed:
            known = "does not qualify" if identifier(ai) else "is unknown after"
            raise ValueError(f"({ai}) {known} ({key})")
        places.append(allowed.index(ai))
    if places != sorted(set(places)):
        raise ValueError(f"after ({key}) come {', '.join(allowed)} in this order, each once")
