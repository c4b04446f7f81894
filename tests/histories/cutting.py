"""What happens with the knife: cutting wheels, cutting portions smaller, blending."""

from rindline_schema.events import Blend, Cut, Input, NewLot, Piece, Place
from tests.histories.simulation import Simulation
from tests.histories.stock import Amount, Goods

__all__ = ["blend", "cut_smaller", "cut_wheel"]


def _piece(sim: Simulation, parent: Goods, kind: str, site: str, amount: Amount) -> Piece:
    made = sim.new_goods(site, kind, amount, [parent.lot])
    product = "TRIM" if kind == "trim" else sim.random.choice(("WEDGE", "HALF"))
    return Piece(product=product, mass_g=amount.mass_g, count=amount.count, lot=made.lot)


def cut_wheel(sim: Simulation) -> bool:
    """A wheel is cut, sector by sector and perhaps in several goes, with some trim and loss."""
    found = sim.pick("wheel", least_g=3_000)
    if found is None or not sim.may_use([found[0].lot]):
        return False
    wheel, site = found
    here = wheel.at(site)
    override = sim.override_for([wheel.lot])
    before_g = here.mass_g
    pieces = []
    for _ in range(sim.random.randint(1, 4)):
        mass_g = sim.random.randint(400, 1_600)
        to_deg = wheel.free_from_deg + 45
        if mass_g > here.mass_g or to_deg > 360:
            break
        here.part(mass_g, 0)
        count = sim.random.randint(1, 8)
        piece = _piece(sim, wheel, "portion", site, Amount(mass_g, count))
        place = Place(from_deg=wheel.free_from_deg, to_deg=to_deg)
        pieces.append(
            Piece(
                product=piece.product,
                mass_g=mass_g,
                count=count,
                lot=piece.lot,
                place=place if sim.random.random() < 0.8 else None,
            )
        )
        wheel.free_from_deg = to_deg
    trim_g = min(sim.random.randint(20, 200), here.mass_g)
    if trim_g:
        here.part(trim_g, 0)
        pieces.append(_piece(sim, wheel, "trim", site, Amount(trim_g, 1)))
    loss_g = min(sim.random.randint(0, 40), here.mass_g)
    here.part(loss_g, 0)
    finished = wheel.free_from_deg >= 360 or here.mass_g < 500
    if finished:
        here.all()
    sim.tell(
        Cut,
        site,
        lot=wheel.lot,
        pieces=pieces,
        tool="WIRE",
        weighed_g=before_g if sim.random.random() < 0.3 else None,
        loss_g=loss_g,
        finished=finished,
        override=override,
    )
    return True


def cut_smaller(sim: Simulation) -> bool:
    """A portion is cut into smaller ones; the pieces may weigh a gram more than the whole did."""
    found = sim.pick("portion", least_g=300)
    if found is None or not sim.is_all_loose(*found) or not sim.may_use([found[0].lot]):
        return False
    portion, site = found
    override = sim.override_for([portion.lot])
    whole = portion.at(site).all()
    number = sim.random.randint(2, 4)
    masses = [whole.mass_g // number] * number
    masses[0] += sim.random.choice((0, 0, 1, -10))
    sim.tell(
        Cut,
        site,
        lot=portion.lot,
        pieces=[_piece(sim, portion, "portion", site, Amount(mass_g, 1)) for mass_g in masses],
        finished=sim.random.random() < 0.8,
        override=override,
    )
    return True


def blend(sim: Simulation) -> bool:
    """Trim and portions of one site are worked into crumble, with a little loss."""
    found = sim.loose("trim", "portion", "blend", least_g=50)
    if len(found) < 3:
        return False
    _, site = sim.random.choice(found)
    here = [goods for goods, where in found if where == site]
    used = sim.random.sample(here, min(len(here), sim.random.randint(2, 5)))
    lots = [goods.lot for goods in used]
    if not sim.may_use(lots):
        return False
    override = sim.override_for(lots)
    inputs = []
    for goods in used:
        mass_g = sim.random.randint(25, goods.at(site).mass_g)
        goods.at(site).part(mass_g, 0)
        inputs.append(Input(lot=goods.lot, mass_g=mass_g))
    in_g = sum(item.mass_g or 0 for item in inputs)
    out_g = in_g - sim.random.randint(0, min(20, in_g // 10))
    parts = [out_g] if sim.random.random() < 0.6 else [out_g // 3, out_g - out_g // 3]
    outputs = []
    for mass_g in parts:
        count = sim.random.randint(1, 10)
        made = sim.new_goods(site, "blend", Amount(mass_g, count), lots)
        outputs.append(NewLot(product="CRUMBLE", mass_g=mass_g, count=count, lot=made.lot))
    sim.tell(Blend, site, inputs=inputs, outputs=outputs, override=override)
    return True
