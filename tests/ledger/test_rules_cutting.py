"""Cutting and blending: what each does, and when it is refused."""

import pytest

from rindline_schema import events as ev
from tests.ledger.scene import Scene, code


def test_a_cut_makes_lots_and_leaves_a_wheel() -> None:
    """Pieces are lots with an edge from the wheel; loss is booked; what is left stays a wheel."""
    scene = Scene()
    wheel = scene.wheel(mass_g=10_000)
    pieces = [
        scene.piece(2_000, count=8),
        ev.Piece(product="TRIM", mass_g=150, lot=code("trim")),
    ]
    scene.tell(ev.Cut, 60, lot=wheel, pieces=pieces, tool="WIRE", room="QM-WARM", loss_g=50)
    record = scene.record(wheel)
    assert (record.into_g, record.cutting_g, record.state) == (2_150, 50, "on_hand")
    assert scene.held_g(wheel) == {"QM": 7_800}
    assert scene.record(code("portion")).made_count == 8
    edges = [(e.child, e.mass_g) for e in scene.world.new_edges if e.parent == wheel]
    assert edges == [(code("portion"), 2_000), (code("trim"), 150)]


def test_of_two_cuts_at_once_the_second_is_told_what_is_left() -> None:
    """Pieces and loss do not outweigh what is left; the loser learns the grams."""
    scene = Scene()
    wheel = scene.wheel(mass_g=10_000)
    scene.tell(ev.Cut, 60, lot=wheel, pieces=[scene.piece(6_000)])
    problem = scene.refused(ev.Cut, 60, lot=wheel, pieces=[scene.piece(6_000, 2)])
    assert (problem.code, problem.lot, problem.left_g) == ("not_enough", wheel, 4_000)
    problem = scene.refused(ev.Cut, 60, lot=wheel, pieces=[scene.piece(3_000, 2)], loss_g=1_100)
    assert (problem.code, problem.left_g) == ("not_enough", 4_000)
    scene.tell(ev.Cut, 60, lot=wheel, pieces=[scene.piece(3_000, 2)], loss_g=1_000)


def test_a_finished_cut_leaves_nothing() -> None:
    """What is missing of a finished wheel is unaccounted for; what was weighed before is not."""
    scene = Scene()
    wheel = scene.wheel(mass_g=10_000)
    pieces = [scene.piece(7_900)]
    scene.tell(ev.Cut, 60, lot=wheel, pieces=pieces, weighed_g=8_000, loss_g=60, finished=True)
    record = scene.record(wheel)
    assert (record.ripening_g, record.cutting_g, record.unaccounted_g) == (2_000, 60, 40)
    assert record.state == "used_up"
    assert scene.refused(ev.Cut, 61, lot=wheel, pieces=[scene.piece(100, 2)]).code == "not_enough"


@pytest.mark.parametrize(
    ("first", "second", "overlap"),
    [
        ((0, 45, "whole"), (45, 90, "whole"), False),
        ((0, 45, "whole"), (44, 90, "whole"), True),
        ((0, 180, "upper"), (0, 180, "lower"), False),
        ((0, 180, "upper"), (90, 100, "whole"), True),
        ((350, 10, "whole"), (5, 20, "whole"), True),
        ((350, 10, "whole"), (10, 350, "whole"), False),
        ((0, 360, "whole"), (359, 360, "lower"), True),
        ((180, 0, "whole"), (0, 180, "whole"), False),
    ],
)
def test_a_sector_is_cut_out_once(
    first: tuple[int, int, str], second: tuple[int, int, str], overlap: bool
) -> None:
    """Sectors that touch do not overlap, layers lie over one another, and 0 is no border: in two
    cuts as in one. The cases are constructed."""
    one, other = (
        ev.Place(from_deg=f, to_deg=t, layer=layer)  # type: ignore[arg-type]
        for f, t, layer in (first, second)
    )
    scene = Scene()
    wheel = scene.wheel()
    scene.tell(ev.Cut, 60, lot=wheel, pieces=[scene.piece(100, place=one)])
    again = {"lot": wheel, "pieces": [scene.piece(100, 2, place=other)]}
    at_once = Scene()
    both = {
        "lot": at_once.wheel(),
        "pieces": [scene.piece(100, place=one), scene.piece(100, 2, place=other)],
    }
    if overlap:
        problem = scene.refused(ev.Cut, 70, **again)
        assert (problem.code, problem.lot) == ("places_overlap", wheel)
        assert at_once.refused(ev.Cut, 60, **both).code == "places_overlap"
    else:
        scene.tell(ev.Cut, 70, **again)
        at_once.tell(ev.Cut, 60, **both)


def test_a_portion_is_cut_smaller() -> None:
    """The second generation descends from the first."""
    scene = Scene()
    portion = scene.portion(mass_g=1_000)
    scene.tell(ev.Cut, 60, lot=portion, pieces=[scene.piece(400, 2), scene.piece(590, 3)])
    assert scene.record(portion).into_g == 990
    assert scene.world.parents[code("portion", 2)] == (portion,)


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"lot": code("trim")}, "wrong_kind"),
        ({"tool": "NONE"}, "not_declared"),
        ({"room": "QR-1"}, "wrong_kind"),
        ({"pieces": [ev.Piece(product="BLUE", mass_g=9, lot=code("portion"))]}, "wrong_kind"),
        ({"pieces": [ev.Piece(product="NONE", mass_g=9)]}, "not_declared"),
        ({"pieces": [ev.Piece(product="TRIM", mass_g=9, lot=code("portion"))]}, "wrong_kind"),
    ],
)
def test_what_a_cut_names_must_fit(fields: dict[str, object], expected: str) -> None:
    """Trim is not cut; a wheel is no piece; a portion's code is not for trim."""
    scene = Scene()
    said = {"lot": scene.wheel(), "pieces": [scene.piece(9)]} | fields
    assert scene.refused(ev.Cut, 60, **said).code == expected


def test_a_cut_is_not_before_the_wheel() -> None:
    """A wheel hooped at 30 is not cut at 29."""
    scene = Scene()
    wheel = scene.wheel(30)
    assert scene.refused(ev.Cut, 29, lot=wheel, pieces=[scene.piece(9)]).code == (
        "before_it_existed"
    )


def _blend_of(scene: Scene, *out_g: int, **fields: object) -> dict[str, object]:
    """Crumble of 100 g of one portion and 300 g of another."""
    wheel = scene.wheel()
    scene.tell(ev.Cut, 60, lot=wheel, pieces=[scene.piece(500), scene.piece(500, 2)])
    outputs = [
        ev.NewLot(product="CRUMBLE", mass_g=mass_g, lot=code("blend", i + 1))
        for i, mass_g in enumerate(out_g)
    ]
    inputs = [
        ev.Input(lot=code("portion"), mass_g=100),
        ev.Input(lot=code("portion", 2), mass_g=300),
    ]
    return {"inputs": inputs, "outputs": outputs} | fields


def test_every_output_of_a_blend_holds_of_every_input() -> None:
    """By mass: of 100 g and 300 g, an output of 200 g holds 50 and 150; the rest is loss."""
    scene = Scene()
    scene.tell(ev.Blend, 70, **_blend_of(scene, 200, 100))
    edges = {
        (e.parent, e.child): e.mass_g
        for e in scene.world.new_edges
        if e.child in (code("blend"), code("blend", 2))
    }
    assert edges == {
        (code("portion"), code("blend")): 50,
        (code("portion", 2), code("blend")): 150,
        (code("portion"), code("blend", 2)): 25,
        (code("portion", 2), code("blend", 2)): 75,
    }
    assert [scene.record(code("portion", n)).cutting_g for n in (1, 2)] == [25, 75]
    assert [scene.record(code("portion", n)).into_g for n in (1, 2)] == [75, 225]


def test_many_small_outputs_take_no_more_than_went_in() -> None:
    """200 g of each of two lots into 133 outputs of 3 g: rounded so often, always the same way,
    the first would give 266 g. Each gives what was put in, less its half of the loss."""
    scene = Scene()
    inputs = [ev.Input(lot=code("portion", n), mass_g=200) for n in (1, 2)]
    scene.tell(ev.Blend, 70, **_blend_of(scene, *[3] * 133, inputs=inputs))
    taken = [scene.record(code("portion", n)).into_g for n in (1, 2)]
    assert sum(taken) == 399
    assert max(taken) <= 200


def test_a_share_of_less_than_a_gram_is_a_share() -> None:
    """An output of 1 g of 100 g and 300 g descends from both, though the grams round to 0 and
    1: what was in the smaller input may be in it."""
    scene = Scene()
    scene.tell(ev.Blend, 70, **_blend_of(scene, 399, 1))
    parents = scene.world.parents[code("blend", 2)]
    assert set(parents) == {code("portion"), code("portion", 2)}


def test_a_blend_does_not_outweigh_its_inputs() -> None:
    """400 g go in; the scale may show 410 (the larger of 10 g and 0.5 %), not 411. What the
    scale found over is not taken from the inputs."""
    scene = Scene()
    problem = scene.refused(ev.Blend, 70, **_blend_of(scene, 411))
    assert (problem.code, problem.left_g) == ("not_enough", 400)
    scene = Scene()
    scene.tell(ev.Blend, 70, **_blend_of(scene, 410))
    assert [scene.record(code("portion", n)).into_g for n in (1, 2)] == [100, 300]
    assert scene.record(code("blend")).made_g == 410


def test_a_blend_is_refused_as_a_make_is() -> None:
    """More than an input has; an input younger than the blend; a held input; names that do not
    fit."""
    scene = Scene()
    said = _blend_of(scene, 200)
    big = [ev.Input(lot=code("portion"), mass_g=511), ev.Input(lot=code("portion", 2), mass_g=1)]
    problem = scene.refused(ev.Blend, 70, **said | {"inputs": big})
    assert (problem.code, problem.lot, problem.left_g) == ("not_enough", code("portion"), 500)
    assert scene.refused(ev.Blend, 59, **said).code == "before_it_existed"
    wrong = [ev.NewLot(product="BLUE", mass_g=9, lot=code("blend"))]
    assert scene.refused(ev.Blend, 70, **said | {"outputs": wrong}).code == "wrong_kind"
    assert scene.refused(ev.Blend, 70, **said | {"tool": "NONE"}).code == "not_declared"
    scene.tell(ev.Hold, 65, lots=[code("portion", 2)], reason="smell")
    problem = scene.refused(ev.Blend, 70, **said)
    assert (problem.code, problem.lot) == ("lot_held", code("portion", 2))
    assert scene.warned(ev.Blend, 70, override="tasted", **said) == ["done_despite_hold"]
