"""What happens with goods on their way: cases, dispatch, arrival, returns."""

from typing import Any

from rindline_schema.events import (
    Arrive,
    Discard,
    Discarded,
    Dispatch,
    Document,
    Line,
    Pack,
    Packed,
    Unpack,
)
from rindline_server.ledger.discrepancies import discrepancy_id
from rindline_server.ledger.states import Found
from tests.histories.registers import CUSTOMERS, ROOMS, SITES
from tests.histories.simulation import Simulation
from tests.histories.stock import Amount, Case, Goods, Load

__all__ = ["arrive", "dispatch", "give_back", "pack", "sell", "sell_and_undo", "unpack"]

_GOODS = ("wheel", "portion", "blend")


def pack(sim: Simulation) -> bool:
    """Portions and crumble of a site into one case.

    A mistaken packing names another lot, which then is set aside; the case may be gone by the
    time it is corrected.
    """
    found = sim.loose("portion", "blend", least_g=20)
    if not found:
        return False
    _, site = sim.random.choice(found)
    here = [goods for goods, where in found if where == site]
    if len(here) > 4 and sim.random.random() < 0.2:
        return _pack_wrongly(sim, here, site)
    some = sim.random.sample(here, min(len(here), sim.random.randint(1, 3)))
    # A case that came and was emptied is used again now and then.
    empty = [c for c in sim.cases.values() if c.site == site and not c.inside]
    case = sim.random.choice(empty) if empty else Case(sim.new_sscc(), site=site)
    sim.cases[case.sscc] = case
    packed = []
    for goods in some:
        amount = goods.at(site)
        count = sim.random.randint(1, amount.count)
        mass_g = amount.mass_g if count == amount.count else amount.mass_g * count // amount.count
        case.inside[goods.lot] = amount.part(mass_g, count)
        packed.append(Packed(lot=goods.lot, count=count, mass_g=mass_g))
    sim.tell(Pack, site, case=case.sscc, lots=packed)
    return True


def _pack_wrongly(sim: Simulation, here: list[Goods], site: str) -> bool:
    real, named = sim.random.sample(here, 2)
    if not sim.is_all_loose(named, site) or sim.holds_on(real.lot) or sim.holds_on(named.lot):
        return False
    count = min(real.at(site).count, named.at(site).count)
    mass_g = min(real.at(site).mass_g, named.at(site).mass_g) // 2
    if mass_g < 10:
        return False
    sim.doubtful |= {real.lot, named.lot}
    named.is_set_aside = True
    case = Case(sim.new_sscc(), site=site)
    sim.cases[case.sscc] = case
    case.inside[real.lot] = real.at(site).part(mass_g, min(1, count))
    wrong = sim.tell(
        Pack, site, case=case.sscc, lots=[Packed(lot=named.lot, count=1, mass_g=mass_g)]
    )
    right = sim.build(
        Pack, site, case=case.sscc, lots=[Packed(lot=real.lot, count=1, mass_g=mass_g)]
    )
    if sim.random.random() < 0.8:
        _send_case(sim, case, sim.random.choice(CUSTOMERS))
    sim.correct_later(wrong, right)
    return True


def _send_case(sim: Simulation, case: Case, customer: str) -> None:
    site = case.site or ""
    if sim.random.random() < 0.5:
        sim.pass_time(5)
    override = sim.override_for(case.inside)
    line = Line(case=case.sscc)
    document = sim.document()
    sim.tell(Dispatch, site, lines=[line], to=customer, document=document, override=override)
    case.site, case.partner = None, customer


def unpack(sim: Simulation) -> bool:
    """A case that stands at a site is emptied, or some lots are taken out of it."""
    found = [case for case in sim.cases.values() if case.site is not None and case.inside]
    if not found:
        return False
    case = sim.random.choice(found)
    site = case.site or ""
    if sim.random.random() < 0.6:
        _empty(sim, case)
        return True
    lot = sim.random.choice(list(case.inside))
    out = case.inside.pop(lot)
    sim.goods[lot].at(site).add(out)
    packed = Packed(lot=lot, count=out.count, mass_g=out.mass_g)
    sim.tell(Unpack, site, case=case.sscc, lots=[packed])
    return True


def _empty(sim: Simulation, case: Case) -> None:
    site = case.site or ""
    sim.tell(Unpack, site, case=case.sscc)
    for lot, amount in case.inside.items():
        sim.goods[lot].at(site).add(amount)
    case.inside = {}


def _some_line(sim: Simulation, goods: Goods, site: str, amounts: dict[str, Amount]) -> Line:
    """Take all or some of a lot, and say so in one of the ways it can be said."""
    here = goods.at(site)
    if here.count > 1 and sim.random.random() < 0.4:
        count = sim.random.randint(1, here.count - 1)
        amounts[goods.lot] = here.part(here.mass_g * count // here.count, count)
        return Line(lot=goods.lot, count=count, mass_g=amounts[goods.lot].mass_g)
    says_all = sim.is_all_loose(goods, site) and goods.lot not in sim.doubtful
    amounts[goods.lot] = here.all()
    if says_all and sim.random.random() < 0.5:
        return Line(lot=goods.lot)
    return Line(lot=goods.lot, count=amounts[goods.lot].count, mass_g=amounts[goods.lot].mass_g)


def _line_up(sim: Simulation) -> tuple[str, list[Line], dict[str, Amount], list[Case]] | None:
    """Choose goods of one site: lots, and whole cases with other lots than those."""
    found = sim.loose(*_GOODS, least_g=50)
    if not found:
        return None
    _, site = sim.random.choice(found)
    here = [goods for goods, where in found if where == site]
    some = sim.random.sample(here, min(len(here), sim.random.randint(1, 5)))
    if not sim.may_use([goods.lot for goods in some]):
        return None
    amounts: dict[str, Amount] = {}
    lines = [_some_line(sim, goods, site, amounts) for goods in some]
    cases = [
        case
        for case in sim.cases.values()
        if case.site == site and case.inside and not set(case.inside) & set(amounts)
    ]
    cases = [case for case in cases if sim.may_use(case.inside)]
    cases = sim.random.sample(cases, min(len(cases), sim.random.randint(0, 2)))
    lines += [Line(case=case.sscc) for case in cases]
    sim.random.shuffle(lines)
    return site, lines, amounts, cases


def _names(amounts: dict[str, Amount], cases: list[Case]) -> list[str]:
    return [*amounts, *(lot for case in cases for lot in case.inside)]


def dispatch(sim: Simulation) -> bool:
    """Goods leave for another site of ours."""
    chosen = _line_up(sim)
    if chosen is None:
        return False
    site, lines, amounts, cases = chosen
    to_site = sim.random.choice([other for other in SITES if other != site])
    document = sim.document()
    sim.tell(
        Dispatch,
        site,
        lines=lines,
        to_site=to_site,
        document=document,
        override=sim.override_for(_names(amounts, cases)),
    )
    load = Load(document.number, to_site, amounts, [case.sscc for case in cases])
    for case in cases:
        case.site = None
    sim.loads.append(load)
    return True


def sell(sim: Simulation) -> bool:
    """Goods leave for a customer; now and then the wrong one is named and corrected."""
    chosen = _line_up(sim)
    if chosen is None:
        return False
    site, lines, amounts, cases = chosen
    customer, other = sim.random.sample(CUSTOMERS, 2)
    fields: dict[str, Any] = {
        "lines": lines,
        "document": sim.document(),
        "override": sim.override_for(_names(amounts, cases)),
    }
    if sim.random.random() < 0.15:
        sim.doubtful.update(_names(amounts, cases))
        wrong = sim.tell(Dispatch, site, to=other, **fields)
        sim.correct_later(wrong, sim.build(Dispatch, site, to=customer, **fields))
    else:
        sim.tell(Dispatch, site, to=customer, **fields)
    for case in cases:
        case.site, case.partner = None, customer
    for lot, amount in amounts.items():
        sim.goods[lot].partners.setdefault(customer, Amount()).add(amount)
    return True


def sell_and_undo(sim: Simulation) -> bool:
    """A dispatch is told that never took place; it is voided, with nothing in its stead."""
    found = sim.pick("portion", "blend", least_g=50)
    if found is None or found[0].lot in sim.doubtful or sim.holds_on(found[0].lot):
        return False
    goods, site = found
    here = goods.at(site)
    sim.doubtful.add(goods.lot)
    line = Line(lot=goods.lot, count=here.count, mass_g=here.mass_g)
    event = sim.tell(Dispatch, site, lines=[line], to=CUSTOMERS[0], document=sim.document())
    sim.pass_time()
    sim.correct_later(event, None)
    sim.pending_corrections.pop()()
    return True


def arrive(sim: Simulation) -> bool:
    """A load comes in: as it was sent, in two parts, or with some of it missing."""
    if not sim.loads:
        return False
    load = sim.random.choice(sim.loads)
    way = sim.random.choices(("whole", "parted", "lost", "missing"), (12, 3, 2, 2))[0]
    lots = list(load.lots)
    if way == "parted" and len(lots) > 1:
        lots = lots[: len(lots) // 2]
    lines = []
    short: list[tuple[str, int]] = []
    for lot in lots:
        sent = load.lots.pop(lot)
        less_g = 0
        if way in ("lost", "missing") and sent.mass_g > 1_000:
            less_g = sent.mass_g // 100 + 15
            short.append((lot, less_g))
        got = Amount(sent.mass_g - less_g, sent.count)
        sim.goods[lot].at(load.to_site).add(got)
        is_as_sent = not less_g and lot not in sim.doubtful and sim.random.random() < 0.5
        lines.append(
            Line(lot=lot) if is_as_sent else Line(lot=lot, count=got.count, mass_g=got.mass_g)
        )
    cases = [sim.cases[sscc] for sscc in load.cases]
    lines += [Line(case=case.sscc) for case in cases]
    _tell_arrival(sim, load, lines, short if way == "missing" else [])
    for case in cases:
        case.site = load.to_site
        if sim.random.random() < 0.3:
            # In the same minute as it came.
            _empty(sim, case)
    if short and way == "lost":
        sim.pass_time(5)
        spilt = [Discarded(lot=lot, mass_g=less_g) for lot, less_g in short]
        document = Document(number=load.document)
        sim.tell(Discard, load.to_site, lots=spilt, reason="spilt", document=document)
    load.cases = []
    if not load.lots:
        sim.loads.remove(load)
    return True


def _tell_arrival(
    sim: Simulation, load: Load, lines: list[Line], missing: list[tuple[str, int]]
) -> None:
    event = sim.tell(
        Arrive,
        load.to_site,
        lines=lines,
        document=Document(number=load.document),
        room=sim.random.choice(ROOMS[load.to_site]) if sim.random.random() < 0.7 else None,
    )
    for lot, _ in missing:
        found = Found("arrival_differs", str(event.id), 0, sure=False)
        sim.differences.append(discrepancy_id(lot, found))


def give_back(sim: Simulation) -> bool:
    """A customer returns a case, or some of a lot."""
    site = sim.random.choice(("QC", "QM"))
    cases = [case for case in sim.cases.values() if case.partner is not None and case.inside]
    if cases and sim.random.random() < 0.5:
        case = sim.random.choice(cases)
        if sim.doubtful & set(case.inside):
            return False
        lines, customer = [Line(case=case.sscc)], case.partner
        case.site, case.partner = site, None
        sim.tell(Arrive, site, lines=lines, returned_by=customer)
        return True
    found = [
        (goods, customer)
        for goods in sim.goods.values()
        for customer, amount in goods.partners.items()
        if amount.mass_g > 20 and amount.count > 0
    ]
    if not found:
        return False
    goods, customer = sim.random.choice(found)
    amount = goods.partners[customer]
    count = sim.random.randint(1, amount.count)
    back = amount.part(amount.mass_g * count // amount.count, count)
    goods.at(site).add(back)
    line = Line(lot=goods.lot, count=back.count, mass_g=back.mass_g)
    sim.tell(Arrive, site, lines=[line], returned_by=customer)
    return True
