"""What was done along a lot's path, and what of the path a customer sees."""

from collections.abc import Iterator

import pytest

from rindline_schema.events import Blend, Input, Iron, NewLot, Tend, Weigh
from rindline_server.service import ProblemError
from rindline_server.store import Store
from tests.service.callers import SHOP_A, SHOP_B
from tests.service.vaults import Vaults, after, opened


@pytest.fixture
def vaults(store: Store) -> Iterator[Vaults]:
    with opened(store) as vaults:
        yield vaults


def _handled(vaults: Vaults) -> tuple[str, str]:
    """A wheel with everything done to it, and a portion of it."""
    (wheel,) = vaults.hooped()
    wrong = vaults.event(Tend, 840, task="pierce", lots=[wheel], tool="WIRE", holes=30)
    vaults.tell(
        vaults.event(Tend, 48, task="turn", lots=[wheel]),
        vaults.event(Tend, 300, task="brush", lots=[wheel], tool="WIRE"),
        wrong,
        vaults.event(Weigh, 900, lot=wheel, mass_g=7_500),
        vaults.event(Tend, 910, task="wash", lots=[wheel]),
    )
    vaults.correct(wrong, vaults.event(Tend, 841, task="pierce", lots=[wheel], holes=120))
    mistaken = vaults.event(Tend, 920, task="rub", lots=[wheel])
    vaults.tell(mistaken)
    vaults.correct(mistaken)
    ironed = vaults.event(Iron, 1500, lot=wheel, body=70, blueing=85, grade="fine", plug_g=20)
    vaults.tell(ironed)
    portion, _ = vaults.cut(
        wheel, 1600, vaults.dairy.piece(700), vaults.dairy.piece(600), weighed_g=7_300
    )
    vaults.tell(vaults.event(Weigh, 1700, lot=wheel, mass_g=6_500))
    return wheel, portion


def test_what_was_done_along_the_path(vaults: Vaults) -> None:
    """Each handling once, in order, with what its event says; of a corrected one the replacement,
    of a voided one nothing, and nothing that befell the wheel after the portion was cut."""
    wheel, portion = _handled(vaults)
    path = vaults.path(portion)
    assert [(h.kind, h.at) for h in path.handlings] == [
        ("turn", after(48)),
        ("brush", after(300)),
        ("pierce", after(841)),
        ("weigh", after(900)),
        ("wash", after(910)),
        ("iron", after(1500)),
        ("weigh", after(1600)),
        ("cut", after(1600)),
    ]
    by_kind = {handling.kind: handling for handling in path.handlings}
    assert (by_kind["brush"].tool, by_kind["pierce"].holes, by_kind["pierce"].tool) == (
        "WIRE",
        120,
        None,
    )
    assert [h.mass_g for h in path.handlings if h.kind == "weigh"] == [7_500, 7_300]
    iron = by_kind["iron"]
    assert (iron.body, iron.texture, iron.blueing, iron.grade) == (70, None, 85, "fine")
    assert (path.ages.at_piercing_days, path.ages.at_cutting_days) == (35, 66)
    assert {handling.lot for handling in path.handlings} == {wheel}
    assert [h.kind for h in vaults.path(wheel).handlings][-1] == "weigh"


def test_what_was_blended_was_not_cut(vaults: Vaults) -> None:
    """Trim worked into crumble: the wheel was cut, the trim was not."""
    (wheel,) = vaults.hooped()
    (trim,) = vaults.cut(wheel, 900, vaults.dairy.piece(1_000, "trim"))
    lot = vaults.dairy.code("blend")
    crumble = NewLot(product="CRUMBLE", lot=lot, mass_g=400)
    inputs = [Input(lot=trim, mass_g=400)]
    vaults.tell(vaults.event(Blend, 950, inputs=inputs, outputs=[crumble]))
    assert [(h.kind, h.lot) for h in vaults.path(lot).handlings] == [("cut", wheel)]
    assert [(h.kind, h.lot) for h in vaults.path(trim).handlings] == [("cut", wheel)]


def test_a_customer_sees_the_path_of_what_it_got(vaults: Vaults) -> None:
    """Stays, figures, ages and tendings up to when its goods left; no weights, no judgings, no
    sale to another, nothing after; and of a lot not sent to it, not even that it is there."""
    wheel, portion = _handled(vaults)
    (shared,) = vaults.cut(wheel, 1750, vaults.dairy.piece(2_000, n=4))
    vaults.sell(shared, 1800, to="SHOP-B", count=2, mass_g=1_000)
    vaults.sell(shared, 1900, to="SHOP-A", count=1, mass_g=500)
    vaults.now = after(2000)
    vaults.read("CAVE", 0, 2000, lambda _: 11.0)
    path = vaults.path(shared, SHOP_A)
    assert path.until_at == after(1900)
    assert [h.kind for h in path.handlings] == [
        "turn",
        "brush",
        "pierce",
        "wash",
        "cut",
        "cut",
        "sale",
    ]
    assert path.ages.at_sale_days == 1900 // 24
    assert path.figures.temperature is not None
    assert path.sixty_days is not None
    assert path.sixty_days.counted_until == after(1900)
    for handling in path.handlings:
        said = (handling.mass_g, handling.grade, handling.body, handling.blueing)
        assert said == (None,) * 4
    other = vaults.path(shared, SHOP_B)
    assert (other.until_at, other.ages.at_sale_days) == (after(1800), 75)
    ours = vaults.path(shared)
    assert ours.until_at == vaults.now
    assert [h.at for h in ours.handlings if h.kind == "sale"] == [after(1800), after(1900)]
    for lot in (portion, wheel):
        with pytest.raises(ProblemError) as caught:
            vaults.ask(lot, SHOP_A)
        assert caught.value.problem.code == "not_found"
