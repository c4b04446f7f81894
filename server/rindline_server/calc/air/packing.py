"""Spreads and spans packed into bytes, so that thousands of them merge at little cost.

A spread says how long a quantity stayed in each step. Packed it is one little-endian number of
8-byte lanes: the first lane holds the lowest step (counted from -32768), each further lane the
microseconds spent in the next step up. Two spreads with the same lowest step are added as whole
numbers, all lanes at once.
"""

from collections.abc import Iterable, Mapping
from struct import Struct
from typing import NamedTuple

__all__ = [
    "C_STEPS",
    "PCT_STEPS",
    "Spell",
    "merge_spreads",
    "pack_spans",
    "pack_spells",
    "pack_spread",
    "spans_of",
    "spells_in",
    "spread_of",
]

C_STEPS = 10
"""Steps to a degree Celsius: step n is centred on n / 10."""
PCT_STEPS = 2
"""Steps to a per cent of humidity: step n is centred on n / 2."""

_LANE = 8
_LOWEST = -32768
_SPAN = Struct("<qq")
_SPELL = Struct("<qqBdd")
_WHATS = ("too_cold", "too_warm", "too_dry", "too_damp")


class Spell(NamedTuple):
    """One unbroken time outside a limit; ``what`` is too_cold, too_warm, too_dry or too_damp."""

    what: str
    from_us: int
    until_us: int
    limit: float
    worst: float


def pack_spread(time_us: Mapping[int, int]) -> bytes:
    """Pack the microseconds spent in each step; b"" if there are none."""
    if not time_us:
        return b""
    lowest, highest = min(time_us), max(time_us)
    lanes = [time_us.get(step, 0) for step in range(lowest, highest + 1)]
    return Struct(f"<{len(lanes) + 1}Q").pack(lowest - _LOWEST, *lanes)


def spread_of(packed: bytes) -> dict[int, int]:
    """Give the microseconds spent in each step, in order of the steps."""
    if not packed:
        return {}
    first, *lanes = Struct(f"<{len(packed) // _LANE}Q").unpack(packed)
    return {first + _LOWEST + i: time_us for i, time_us in enumerate(lanes) if time_us}


def merge_spreads(spreads: Iterable[bytes]) -> bytes:
    """Add up packed spreads."""
    sums: dict[bytes, int] = {}
    number = int.from_bytes
    known = sums.get
    for packed in spreads:
        if packed:
            lowest = packed[:_LANE]
            sums[lowest] = known(lowest, 0) + number(packed, "little")
    if not sums:
        return b""
    firsts = {lowest: number(lowest, "little") for lowest in sums}
    first = min(firsts.values())
    # Each sum carries its first lane as often as it was added; shifted out, the times are left.
    whole = sum(
        (sums[lowest] >> 8 * _LANE) << 8 * _LANE * (at - first) for lowest, at in firsts.items()
    )
    lanes = -(-whole.bit_length() // (8 * _LANE))
    return first.to_bytes(_LANE, "little") + whole.to_bytes(lanes * _LANE, "little")


def pack_spells(spells: Iterable[Spell]) -> bytes:
    """Pack spells one after another."""
    return b"".join(
        _SPELL.pack(from_us, until_us, _WHATS.index(what), limit, worst)
        for what, from_us, until_us, limit, worst in spells
    )


def spells_in(packed: bytes) -> list[Spell]:
    """Give packed spells, by what and time; those that touch and share a limit are joined."""
    found = sorted(_SPELL.iter_unpack(packed), key=lambda row: (row[2], row[0]))
    joined: list[Spell] = []
    for from_us, until_us, place, limit, worst in found:
        spell = Spell(_WHATS[place], from_us, until_us, limit, worst)
        last = joined[-1] if joined else None
        if last and last.until_us == from_us and (last.what, last.limit) == (spell.what, limit):
            further = min if worst < limit else max
            joined[-1] = last._replace(until_us=until_us, worst=further(last.worst, worst))
        else:
            joined.append(spell)
    return joined


def pack_spans(spans: Iterable[tuple[int, int]]) -> bytes:
    """Pack spans of time one after another."""
    return b"".join(_SPAN.pack(from_us, until_us) for from_us, until_us in spans)


def spans_of(packed: bytes) -> list[tuple[int, int]]:
    """Give packed spans in order of time; those that touch are joined."""
    joined: list[tuple[int, int]] = []
    for from_us, until_us in sorted(_SPAN.iter_unpack(packed)):
        if joined and joined[-1][1] >= from_us:
            joined[-1] = (joined[-1][0], max(joined[-1][1], until_us))
        else:
            joined.append((from_us, until_us))
    return joined
