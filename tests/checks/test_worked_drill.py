"""The worked drill, told to the rules event by event and balanced to the gram."""

from rindline_schema import events as ev
from rindline_server.calc.balance import accounted_pct
from tests.ledger.scene import Scene, code


def test_the_worked_drill_balances_as_worked_out() -> None:
    """40 wheels of 11.0 kg of salted curd, 322.4 kg at cutting, 316.0 kg sold, 4.8 kg of trim and
    0.9 kg of samples: 26.7 % ripening loss, 0.7 kg or 0.22 % unaccounted for, balance 99.78 %.

    A constructed example of this project (check-values.md, marked X), not a published one. Each
    wheel weighs 8,060 g at cutting and gives 7,900 g of portions, 120 g of trim, and a sample of
    22 or 23 g.
    """
    scene = Scene()
    make = scene.vat(mass_g=440_000, inputs=[scene.milk(mass_g=440_000)])
    wheels = [code("wheel", n) for n in range(1, 41)]
    scene.tell(
        ev.Hoop, 30, make=make, product="BLUE", room="QM-WARM", finished=True,
        wheels=[ev.NewWheel(mass_g=11_000, lot=lot) for lot in wheels],
    )  # fmt: skip
    for n, lot in enumerate(wheels, start=1):
        scene.tell(ev.Weigh, 99, lot=lot, mass_g=8_060)
        sampled_g = 22 if n % 2 else 23
        scene.tell(ev.Sample, 100, lot=lot, reference=f"S{n}", mass_g=sampled_g)
        pieces = [
            ev.Piece(product="WEDGE", mass_g=7_900, count=40, lot=code("portion", n)),
            ev.Piece(product="TRIM", mass_g=120, lot=code("trim", n)),
        ]
        scene.tell(ev.Cut, 101, lot=lot, pieces=pieces, finished=True)
        line, document = ev.Line(lot=code("portion", n)), ev.Document(number=f"D{n}")
        scene.tell(ev.Dispatch, 102, lines=[line], document=document, to="SHOP-1")
    records = [scene.record(lot) for lot in wheels]
    made_g = sum(record.made_g for record in records)
    ripening_g = sum(record.ripening_g for record in records)
    assert made_g == 440_000
    assert ripening_g == 117_600
    assert round(100 * ripening_g / made_g, 1) == 26.7
    portions = [scene.record(code("portion", n)) for n in range(1, 41)]
    sold_g = sum(h.mass_g for record in portions for h in record.holdings)
    assert all(h.holder == "SHOP-1" for record in portions for h in record.holdings)
    trim_g = sum(scene.record(code("trim", n)).made_g for n in range(1, 41))
    samples_g = sum(record.samples_g for record in records)
    assert (sold_g, trim_g, samples_g) == (316_000, 4_800, 900)
    unaccounted_g = sum(record.unaccounted_g for record in records)
    at_cutting_g = made_g - ripening_g
    assert at_cutting_g == 322_400
    assert unaccounted_g == 700
    assert round(100 * unaccounted_g / at_cutting_g, 2) == 0.22
    assert accounted_pct(at_cutting_g, unaccounted_g) == 99.78
    assert all(record.state == "used_up" for record in records)
    assert scene.record(make).state == "used_up"
