"""What the laboratory and the office say: samples, results, holds, releases, discards, cleaning."""

from uuid import UUID

from rindline_schema.events import Clean, Discard, Discarded, Hold, Release, Result, Sample, Settle
from tests.histories.registers import SITES
from tests.histories.simulation import Simulation

__all__ = ["clean", "discard", "hold", "release", "result", "sample", "settle"]


def sample(sim: Simulation) -> bool:
    """A sample is taken; its result comes later, if ever."""
    found = sim.pick("milk", "wheel", "portion", least_g=200)
    if found is None:
        return False
    goods, site = found
    mass_g = sim.random.randint(0, 60)
    goods.at(site).part(mass_g, 0)
    reference = f"S{len(sim.events):06d}"
    sim.tell(Sample, site, lot=goods.lot, reference=reference, mass_g=mass_g, laboratory="LAB")
    sim.samples.append((reference, goods.lot))
    return True


def result(sim: Simulation) -> bool:
    """A result comes in; a failed one holds the lot and perhaps all made of it."""
    if not sim.samples:
        return False
    reference, lot = sim.samples.pop(sim.random.randrange(len(sim.samples)))
    verdict = sim.random.choices(("passed", "noted", "failed"), (6, 1, 2))[0]
    spreads = sim.random.random() < 0.5
    event = sim.tell(
        Result, "QM", sample=reference, test="listeria", verdict=verdict, spreads=spreads
    )
    if verdict == "failed":
        _put(sim, event.id, {lot}, spreads=spreads)
    return True


def _put(sim: Simulation, hold_id: UUID, lots: set[str], *, spreads: bool) -> None:
    sim.holds[hold_id] = (lots, spreads)
    sim.lifted[hold_id] = set()


def hold(sim: Simulation) -> bool:
    """Some lots are put on hold."""
    found = sim.loose("milk", "wheel", "portion", "trim")
    if not found or len(sim.holds) > 3:
        return False
    _, site = sim.random.choice(found)
    lots = [goods.lot for goods, where in found if where == site]
    some = sim.random.sample(lots, min(len(lots), sim.random.randint(1, 3)))
    spreads = sim.random.random() < 0.7
    event = sim.tell(Hold, site, lots=some, reason="to be looked at", spreads=spreads)
    _put(sim, event.id, set(some), spreads=spreads)
    return True


def release(sim: Simulation) -> bool:
    """A hold is lifted: for all its lots, for one of them, or for a lot made of them."""
    if not sim.holds:
        return False
    hold_id = sim.random.choice(list(sim.holds))
    lots, spreads = sim.holds[hold_id]
    reached = [lot for lot in sim.goods if hold_id in sim.holds_on(lot)]
    if not reached:
        del sim.holds[hold_id]
        return False
    if spreads and sim.random.random() < 0.3:
        # One lot only, perhaps made of those held: the hold stands for all others.
        lot = sim.random.choice(reached)
        named = sim.random.random() < 0.5
        sim.tell(Release, "QM", lots=[lot], reason="found good", hold=hold_id if named else None)
        for other in [hold_id] if named else list(sim.holds):
            _lift(sim, other, lot)
        return True
    standing = sorted(lots & set(reached))
    if not standing:
        return False
    sim.tell(Release, "QM", lots=standing, reason="found good", hold=hold_id)
    for lot in standing:
        _lift(sim, hold_id, lot)
    return True


def _lift(sim: Simulation, hold_id: UUID, lot: str) -> None:
    if hold_id in sim.holds_on(lot):
        sim.lifted[hold_id].add(lot)


def discard(sim: Simulation) -> bool:
    """Goods are thrown away: some, or all that lie there."""
    found = sim.pick("portion", "trim", "wheel", least_g=50)
    if found is None:
        return False
    goods, site = found
    here = goods.at(site)
    if (
        sim.random.random() < 0.5
        and sim.is_all_loose(goods, site)
        and (goods.lot not in sim.doubtful)
    ):
        here.all()
        item = Discarded(lot=goods.lot)
    else:
        count = sim.random.randint(1, here.count)
        thrown = here.part(here.mass_g * count // here.count, count)
        item = Discarded(lot=goods.lot, mass_g=thrown.mass_g, count=count)
    sim.tell(Discard, site, lots=[item], reason="mould where none should be", method="burnt")
    return True


def clean(sim: Simulation) -> bool:
    """A tool is cleaned."""
    sim.tell(Clean, sim.random.choice(SITES), tool="NEEDLES", method="boiled")
    return True


def settle(sim: Simulation) -> bool:
    """Somebody looked into what did not arrive."""
    if not sim.differences:
        return False
    discrepancy = sim.differences.pop(0)
    sim.tell(Settle, "QM", discrepancy=discrepancy, finding="eaten on the way")
    return True
