"""Mass balance of a drill, kind by kind: what was made, and where every gram of it is."""

from collections import Counter
from collections.abc import Iterable

from rindline_schema.answers import StageBalance
from rindline_server.calc.balance import accounted_pct
from rindline_server.service.drills.reach import Reach
from rindline_server.store import HOLDER_SORTS, LOT_KINDS, BalanceRow

__all__ = ["stage_balances"]

_TRIM = LOT_KINDS.index("trim")


def stage_balances(sums: Iterable[BalanceRow], found: Reach) -> list[StageBalance]:
    """Balance each kind of lot among those reached, in the order milk goes through the dairy."""
    held: Counter[tuple[int, int]] = Counter()
    for lot, holding in found.holdings:
        held[lot.kind, holding.sort] += holding.mass_g
    into_traced: Counter[int] = Counter()
    into_trim: Counter[int] = Counter()
    for edge in found.edges:
        kind = found.lots[edge.parent_id].kind
        into_traced[kind] += edge.mass_g
        if found.lots[edge.child_id].kind == _TRIM:
            into_trim[kind] += edge.mass_g
    site, transit, partner = (HOLDER_SORTS.index(s) for s in ("site", "transit", "partner"))
    return [
        StageBalance(
            kind=LOT_KINDS[row.kind],
            lots=row.lots,
            made_g=row.made_g,
            on_hand_g=held[row.kind, site],
            in_transit_g=held[row.kind, transit],
            with_customers_g=held[row.kind, partner],
            into_lots_g=row.into_g,
            into_traced_g=into_traced[row.kind],
            into_trim_g=into_trim[row.kind],
            drained_g=row.drained_g,
            ripening_loss_g=row.ripening_g,
            cutting_loss_g=row.cutting_g,
            samples_g=row.samples_g,
            discarded_g=row.discarded_g,
            unaccounted_g=row.unaccounted_g,
            accounted_pct=accounted_pct(
                row.made_g - row.ripening_g - row.drained_g, row.unaccounted_g
            ),
        )
        for row in sorted(sums, key=lambda row: row.kind)
    ]
