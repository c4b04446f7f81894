"""What happens before there are pieces: milk in, the vat, wheels and their care."""

from typing import Any

from rindline_schema.events import (
    Hoop,
    Input,
    Iron,
    Make,
    MilkTests,
    Move,
    NewWheel,
    Receive,
    Tend,
    Weigh,
)
from tests.histories.registers import ROOMS
from tests.histories.simulation import Simulation
from tests.histories.stock import Amount

__all__ = ["hoop", "iron", "make", "move", "receive_ingredient", "receive_milk", "tend", "weigh"]


def receive_milk(sim: Simulation) -> bool:
    """Milk comes in, by volume or by mass; the inhibitor test is seldom positive."""
    litres = sim.random.randint(400, 900)
    by_volume = sim.random.random() < 0.5
    mass_g = litres * 1030
    milk = sim.new_goods("QM", "milk", Amount(mass_g, 1))
    positive = sim.random.random() < 0.05
    event = sim.tell(
        Receive,
        "QM",
        product="MILK",
        supplier=sim.random.choice(("HERD-1", "HERD-2")),
        lot=milk.lot,
        mass_g=None if by_volume else mass_g,
        volume_ml=litres * 1000 if by_volume else None,
        tests=MilkTests(inhibitors="positive") if positive else None,
    )
    if positive:
        sim.holds[event.id] = ({milk.lot}, True)
        sim.lifted[event.id] = set()
    return True


def receive_ingredient(sim: Simulation) -> bool:
    """Salt or rennet comes in; now and then the reference is wrong and corrected."""
    mass_g = sim.random.randint(5_000, 50_000)
    salt = sim.new_goods("QM", "ingredient", Amount(mass_g, 1))
    fields: dict[str, Any] = {
        "product": sim.random.choice(("SALT", "RENNET")),
        "supplier": "DRY-GOODS",
        "lot": salt.lot,
        "mass_g": mass_g,
    }
    if sim.random.random() < 0.3:
        wrong = sim.tell(Receive, "QM", reference="mistyped", **fields)
        sim.correct_later(wrong, sim.build(Receive, "QM", reference="as printed", **fields))
    else:
        sim.tell(Receive, "QM", **fields)
    return True


def make(sim: Simulation) -> bool:
    """A vat from one to three milk lots and a little of an ingredient."""
    milk = [(goods, site) for goods, site in sim.loose("milk", least_g=20_000)]
    others = sim.loose("ingredient", least_g=500)
    if not milk or not others:
        return False
    used = sim.random.sample(milk, min(len(milk), sim.random.randint(1, 3)))
    used.append(sim.random.choice(others))
    lots = [goods.lot for goods, _ in used]
    if not sim.may_use(lots):
        return False
    inputs = []
    for goods, site in used:
        here = goods.at(site)
        most_g = min(here.mass_g, 300_000 if goods.kind == "milk" else 1_000)
        mass_g = sim.random.randint(most_g // 2, most_g)
        here.part(mass_g, 0)
        inputs.append(Input(lot=goods.lot, mass_g=mass_g))
    made_g = sum(item.mass_g or 0 for item in inputs)
    curd = sim.new_goods("QM", "make", Amount(made_g, 1), lots)
    sim.tell(
        Make,
        "QM",
        product="CURD",
        vat="VAT-1",
        inputs=inputs,
        lot=curd.lot,
        override=sim.override_for(lots),
    )
    return True


def hoop(sim: Simulation) -> bool:
    """Wheels from a make, in one go or several; the last go leaves nothing."""
    found = sim.pick("make", least_g=30_000)
    if found is None:
        return False
    curd, site = found
    wheels = []
    for _ in range(sim.random.randint(2, 6)):
        mass_g = sim.random.randint(10_000, 12_000)
        if curd.at(site).mass_g <= mass_g:
            break
        curd.at(site).part(mass_g, 0)
        wheel = sim.new_goods(site, "wheel", Amount(mass_g, 1), [curd.lot])
        wheels.append(NewWheel(mass_g=mass_g, lot=wheel.lot))
    finished = curd.at(site).mass_g < 30_000 or sim.random.random() < 0.4
    whey_g = curd.at(site).mass_g // 3
    curd.at(site).part(whey_g, 0)
    if finished:
        curd.at(site).all()
    sim.tell(
        Hoop,
        site,
        make=curd.lot,
        product="BLUE",
        wheels=wheels,
        room=sim.random.choice(ROOMS[site]),
        whey_g=whey_g,
        finished=finished,
    )
    return True


def move(sim: Simulation) -> bool:
    """Wheels and portions to another room."""
    found = sim.loose("wheel", "portion")
    if not found:
        return False
    _, site = sim.random.choice(found)
    lots = [goods.lot for goods, where in found if where == site]
    some = sim.random.sample(lots, min(len(lots), sim.random.randint(1, 5)))
    sim.tell(Move, site, lots=some, room=sim.random.choice(ROOMS[site]))
    return True


def tend(sim: Simulation) -> bool:
    """Wheels turned or pierced; now and then it never happened, and the event is voided."""
    found = sim.loose("wheel")
    if not found:
        return False
    _, site = sim.random.choice(found)
    lots = [goods.lot for goods, where in found if where == site]
    some = sim.random.sample(lots, min(len(lots), sim.random.randint(1, 6)))
    if sim.random.random() < 0.3:
        event = sim.tell(Tend, site, task="pierce", lots=some, tool="NEEDLES", holes=200)
    else:
        event = sim.tell(Tend, site, task="turn", lots=some)
    if sim.random.random() < 0.15:
        sim.correct_later(event, None)
    return True


def iron(sim: Simulation) -> bool:
    """A plug is taken and judged."""
    found = sim.pick("wheel", least_g=2_000)
    if found is None:
        return False
    goods, site = found
    plug_g = sim.random.randint(0, 8)
    goods.at(site).part(plug_g, 0)
    sim.tell(Iron, site, lot=goods.lot, tool="IRON", grade="first", blueing=60, plug_g=plug_g)
    return True


def weigh(sim: Simulation) -> bool:
    """A lot has lost some mass; or the scale shows a few grams more than before.

    A mistaken weighing shows too much, but no more than before, and is corrected: once, or twice
    because the first correction was mistaken as well.
    """
    found = sim.pick("wheel", "portion", least_g=500)
    if found is None or not sim.is_all_loose(*found):
        return False
    goods, site = found
    here = goods.at(site)
    chance = sim.random.random()
    if chance < 0.1:
        noise_g = sim.random.randint(0, 3)
        sim.tell(Weigh, site, lot=goods.lot, mass_g=here.mass_g + noise_g)
        return True
    before_g = here.mass_g
    here.part(sim.random.randint(2, max(3, before_g // 50)), 0)
    if chance > 0.3:
        sim.tell(Weigh, site, lot=goods.lot, mass_g=here.mass_g)
        return True
    sim.doubtful.add(goods.lot)
    wrong = sim.tell(
        Weigh, site, lot=goods.lot, mass_g=sim.random.randint(here.mass_g + 1, before_g)
    )
    right = sim.build(Weigh, site, lot=goods.lot, mass_g=here.mass_g)
    if chance > 0.2:
        sim.correct_later(wrong, right)
        return True
    between = sim.build(
        Weigh, site, lot=goods.lot, mass_g=sim.random.randint(here.mass_g, before_g)
    )
    sim.correct_later(wrong, between)
    sim.correct_later(between, right)
    return True
