"""Which of some lots are held now."""

from collections.abc import Sequence

from rindline_server.ledger.holds import holds_at
from rindline_server.store.holds import any_spreading_hold, held_by_spreading
from rindline_server.store.link import Link
from rindline_server.store.loading import load_holds_world
from rindline_server.store.lots import codes_of

__all__ = ["held_among", "held_by_kin"]

# Fewer than this: look up from each. More: look down from the holds, which are few.
_FEW = 2_000

# Later than any event: what stands then stands now.
_LATEST_US = 2**62


def held_among(link: Link, ids: Sequence[int]) -> set[int]:
    """Give those of these lots that are held, by a hold of their own or one that spreads."""
    rows = link.rows("SELECT id FROM lots WHERE id {any_big} AND held > 0", [link.many(ids)])
    return {row[0] for row in rows} | held_by_kin(link, ids)


def held_by_kin(link: Link, ids: Sequence[int]) -> set[int]:
    """Give those of these lots that a spreading hold reaches, also those it was put on."""
    if not any_spreading_hold(link):
        return set()
    if len(ids) > _FEW:
        return held_by_spreading(link) & set(ids)
    codes = codes_of(link, ids)
    world = load_holds_world(link, codes.values())
    return {lot_id for lot_id, code in codes.items() if holds_at(world, code, _LATEST_US)}
