"""The story by the pure rules: nothing refused, one thing open, every gram in its place."""

from datetime import timedelta

import pytest

from rindline_schema import events as ev
from rindline_schema.codes import kind_of_code
from rindline_server.demo import SMALL
from rindline_server.demo.incidents import CORRECTED_MAKE, HELD_MAKE
from rindline_server.demo.registers import CUTTING, STORE
from rindline_server.demo.transfers import SHORT_G
from rindline_server.ledger.holds import holds_at
from rindline_server.ledger.times import to_us
from tests.demo.conftest import Folded, fold_story


def _mean(values: list[int]) -> float:
    return sum(values) / len(values)


def _makes(told: Folded) -> list[ev.Make]:
    return [event for event in told.story.events if isinstance(event, ev.Make)]


def test_nothing_is_refused(told: Folded) -> None:
    """Every event is recorded, in the order in which it is told."""
    assert told.refused == []


def test_one_thing_is_left_open(told: Folded) -> None:
    """A wheel arrived lighter than it left; what the late store made look wrong has settled."""
    found = [(lot, found) for lot, book in told.world.books.items() for found in book.record.found]
    ((lot, only),) = found
    assert only.kind == "arrival_differs"
    assert kind_of_code(lot) == "wheel"
    assert SHORT_G <= only.grams <= SHORT_G + 20
    assert len([warned for warned in told.warned if warned.code == "dispatch_not_told"]) > 10


def test_every_lot_is_known_and_adds_up(told: Folded) -> None:
    """What was made is held, went into lots, or is booked as lost, to the gram."""
    for lot, book in told.world.books.items():
        record = book.record
        assert record.is_born, lot
        held_g = sum(holding.mass_g for holding in record.holdings)
        lost_g = record.ripening_g + record.drained_g + record.cutting_g + record.samples_g
        lost_g += record.discarded_g + record.unaccounted_g
        assert record.made_g == held_g + record.into_g + lost_g, lot
        assert all(holding.mass_g > 0 for holding in record.holdings), lot
        assert abs(record.unaccounted_g) <= 50, lot


def test_the_store_tells_after_what_rests_on_it(told: Folded) -> None:
    """The cutting room tells that wheels arrived before the store tells that they left."""
    arrived: dict[str, int] = {}
    late = []
    for place, event in enumerate(told.story.events):
        if isinstance(event, ev.Arrive) and event.site == CUTTING and event.document:
            arrived[event.document.number] = place
        elif isinstance(event, ev.Dispatch) and event.site == STORE:
            late.append(event.document.number in arrived)
    assert late.count(True) >= 1


def test_the_correction_puts_the_salt_right(told: Folded) -> None:
    """The make was told with the salt that was used up, and stands with the one then open."""
    (correct,) = [event for event in told.story.events if isinstance(event, ev.Correct)]
    wrong = _makes(told)[CORRECTED_MAKE - 1]
    right = correct.replacement
    assert correct.event == wrong.id
    assert isinstance(right, ev.Make)
    differing = [(a.lot, b.lot) for a, b in zip(wrong.inputs, right.inputs, strict=True) if a != b]
    ((used_up, opened),) = differing
    salts = [
        event.lot
        for event in told.story.events
        if isinstance(event, ev.Receive) and event.product == "SALT"
    ]
    assert (used_up, opened) == (salts[0], salts[1])
    parents = told.world.parents[right.lot or ""]
    assert opened in parents
    assert used_up not in parents


def test_the_hold_kept_the_make_in_place_until_its_release(told: Folded) -> None:
    """While it lasted, every wheel of the make was held; afterwards they left."""
    (hold,) = [event for event in told.story.events if isinstance(event, ev.Hold)]
    (release,) = [event for event in told.story.events if isinstance(event, ev.Release)]
    make = _makes(told)[HELD_MAKE - 1].lot
    assert hold.lots == release.lots == [make]
    wheels = [lot for lot, parents in told.world.parents.items() if make in parents]
    during, after = to_us(hold.at + timedelta(days=1)), to_us(release.at)
    assert all(holds_at(told.world, wheel, during) for wheel in wheels)
    assert not any(holds_at(told.world, wheel, after) for wheel in wheels)
    left = [
        event.at
        for event in told.story.events
        if isinstance(event, ev.Dispatch) and {line.lot for line in event.lines} & set(wheels)
    ]
    assert left
    assert min(left) > release.at


def test_without_its_release_the_held_make_cannot_leave(small: Folded) -> None:
    """The hold bites: the story told without the release is refused where its wheels leave."""
    events = tuple(e for e in small.story.events if not isinstance(e, ev.Release))
    refused = fold_story(small.story._replace(events=events)).refused
    assert "lot_held" in {problem.code for problem in refused}


def test_the_case_that_came_back_is_thrown_away(told: Folded) -> None:
    """Nobody holds anything of it any more, and all of it is booked as discarded."""
    (back,) = [
        event for event in told.story.events if isinstance(event, ev.Arrive) and event.returned_by
    ]
    (packed,) = [
        event
        for event in told.story.events
        if isinstance(event, ev.Pack) and event.case == back.lines[0].case
    ]
    for item in packed.lots:
        record = told.world.books[item.lot].record
        assert record.holdings == ()
        assert record.discarded_g == item.mass_g


def test_the_drill_has_something_of_everything(told: Folded) -> None:
    """From its delivery: every kind of lot, on hand, on the road, with every shop, thrown away."""
    children: dict[str, list[str]] = {}
    for edge in told.world.new_edges:
        children.setdefault(edge.parent, []).append(edge.child)
    reached = {told.story.milk}
    waiting = [told.story.milk]
    while waiting:
        new = [child for child in children.get(waiting.pop(), ()) if child not in reached]
        reached.update(new)
        waiting += new
    holdings = [h for lot in reached for h in told.world.books[lot].record.holdings]
    assert {kind_of_code(lot) for lot in reached} == {
        "milk",
        "make",
        "wheel",
        "portion",
        "trim",
        "blend",
    }
    assert {holding.where for holding in holdings} == {"site", "transit", "partner"}
    assert len({h.holder for h in holdings if h.where == "partner"}) == 15
    assert len({h.holder for h in holdings if h.where == "site"}) == 3
    assert any(told.world.books[lot].record.discarded_g for lot in reached if lot[7] == "P")
    assert any(found for lot in reached for found in told.world.books[lot].record.found)
    portion = told.world.books[told.story.portion].record
    assert [h.holder for h in portion.holdings] == [told.story.portion_shop]
    assert told.story.portion in reached


# --- trade practice: common practice, no source ---------------------------------------------------


def test_milk_and_curd_are_as_the_trade_has_them(told: Folded) -> None:
    """About 78 l of milk and 11 kg of salted curd a wheel; salt 2.5 to 3 % on curd; two milks."""
    hooped: dict[str, list[int]] = {}
    for event in told.story.events:
        if isinstance(event, ev.Hoop):
            hooped.setdefault(event.make, []).extend(w.mass_g for w in event.wheels)
    for make in _makes(told):
        wheels_g = hooped[make.lot or ""]
        milk_ml = sum(item.volume_ml or 0 for item in make.inputs)
        assert milk_ml // len(wheels_g) == 78_000
        assert 10_900 <= _mean(wheels_g) <= 11_100
        assert 0.025 <= make.inputs[-1].mass_g / sum(wheels_g) <= 0.03  # type: ignore[operator]
        assert sum(item.volume_ml is not None for item in make.inputs) >= 2
        assert make.readings[0].ph is not None
        assert 4.6 <= (make.readings[-1].ph or 0) <= 4.9


def test_wheels_dry_and_are_pierced_as_the_trade_has_it(told: Folded) -> None:
    """11 kg fall to about 8 kg at nine weeks; pierced at five weeks with 50 to 300 holes."""
    fresh = {
        wheel.lot: (event.at, wheel.mass_g)
        for event in told.story.events
        if isinstance(event, ev.Hoop)
        for wheel in event.wheels
    }
    first: dict[str, ev.Cut] = {}
    for event in told.story.events:
        if isinstance(event, ev.Cut) and event.lot in fresh:
            first.setdefault(event.lot, event)
    shares = [event.weighed_g / fresh[lot][1] for lot, event in first.items() if event.weighed_g]
    assert 0.715 <= sum(shares) / len(shares) <= 0.74
    ages = [(event.at - fresh[lot][0]).days for lot, event in first.items()]
    # "Sold at 9 to 15 weeks": cut on the working days after nine weeks from the vat.
    assert min(ages) >= 62
    assert max(ages) <= 15 * 7
    pierced = [e for e in told.story.events if isinstance(e, ev.Tend) and e.task == "pierce"]
    assert {(event.at - fresh[event.lots[0]][0]).days for event in pierced} == {35, 42}
    assert all(50 <= (event.holes or 0) <= 300 for event in pierced)


def test_wedges_weigh_what_the_trade_cuts(told: Folded) -> None:
    """150 to 250 g each, every one a lot of its own with its own mass."""
    wedges = [
        piece
        for event in told.story.events
        if isinstance(event, ev.Cut)
        for piece in event.pieces
        if piece.product == "QB-WEDGE"
    ]
    assert all(150 <= wedge.mass_g <= 250 and wedge.count == 1 for wedge in wedges)
    assert len({wedge.mass_g for wedge in wedges}) > 30


def test_trim_ends_in_crumble(told: Folded) -> None:
    """All trim cut by the last Friday is worked into tubs of 150 g."""
    blends = [event for event in told.story.events if isinstance(event, ev.Blend)]
    trims = [lot for lot in told.world.books if kind_of_code(lot) == "trim"]
    assert {item.lot for event in blends for item in event.inputs} == set(trims)
    for event in blends:
        (crumble,) = event.outputs
        assert crumble.mass_g == crumble.count * 150


@pytest.mark.parametrize("field", ["make_days", "wheels"])
def test_the_small_story_is_small(field: str, small: Folded, whole: Folded) -> None:
    """What the quick tests run is a fraction of the whole, not the whole under another name."""
    assert small.story.scale == SMALL
    assert getattr(small.story.scale, field) != getattr(whole.story.scale, field)
    assert len(small.story.events) * 4 < len(whole.story.events)
