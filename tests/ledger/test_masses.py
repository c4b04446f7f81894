"""Every gram of a lot is somewhere, whatever was told and in whatever order."""

from hypothesis import given, settings
from hypothesis import strategies as st

from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import Entry
from rindline_server.ledger.fold import fold
from rindline_server.ledger.states import LotRecord
from tests.histories.dairy import random_history
from tests.histories.telling import replayed, told_again


def _accounted_g(record: LotRecord) -> int:
    return sum(holding.mass_g for holding in record.holdings) + (
        record.into_g
        + record.ripening_g
        + record.drained_g
        + record.cutting_g
        + record.samples_g
        + record.discarded_g
        + record.unaccounted_g
    )


@settings(max_examples=60)
@given(seed=st.integers(0, 10_000), part=st.floats(0.1, 1.0))
def test_made_equals_held_and_gone_to_the_gram(seed: int, part: float) -> None:
    """For every lot that is made, after any part of a history in any order, contradictions and
    missing facts included: what was made is what is held and what went under each heading."""
    history = random_history(seed, 150)
    events = told_again(history.events, seed)
    once = list({event.id: event for event in events}.values())[: int(len(history.events) * part)]
    world = replayed(history, once)
    born = [book.record for book in world.books.values() if book.record.is_born]
    assert born
    for record in born:
        assert record.made_g == _accounted_g(record)


_KINDS = ("arrive", "weigh", "take", "loss", "sample", "discard", "dispatch", "finish", "pack")
_AMOUNT = st.one_of(st.none(), st.integers(0, 3_000))


@st.composite
def _entries(draw: st.DrawFn) -> list[Entry]:
    """Entries of one lot as no dairy would tell them."""
    born = Entry(lot="L", event="0", line=0, kind="born", at_us=0, site="QM", mass_g=2_000, count=4)
    made = [born]
    for line in range(1, draw(st.integers(2, 12))):
        kind = draw(st.sampled_from(_KINDS))
        to_partner = draw(st.booleans())
        goes = kind in ("arrive", "dispatch")
        mass_g = draw(st.integers(0, 3_000) if kind == "weigh" else _AMOUNT)
        made.append(
            Entry(
                lot="L",
                event=str(line),
                line=line,
                kind=kind,  # type: ignore[arg-type]
                at_us=draw(st.integers(-2, 6)),
                site=draw(st.sampled_from(("QM", "QR"))),
                mass_g=(mass_g or 0) if kind in ("pack", "finish") else mass_g,
                count=draw(st.one_of(st.none(), st.integers(0, 5))),
                partner="SHOP" if goes and to_partner else None,
                document="D" if goes and not to_partner else None,
                to_site="QR" if kind == "dispatch" and not to_partner else None,
            )
        )
    return made


@settings(max_examples=400)
@given(entries=_entries(), order=st.randoms(use_true_random=False))
def test_a_fold_of_nonsense_still_adds_up(entries: list[Entry], order: object) -> None:
    """Entries that contradict one another in every way: the figures add up all the same, and do
    not depend on the order they are given in."""
    record = fold(entries, ScaleTolerance())
    assert record.made_g == 2_000
    assert _accounted_g(record) == 2_000
    shuffled = list(entries)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    assert fold(shuffled, ScaleTolerance()) == record
    assert len({(found.kind, found.event) for found in record.found}) == len(record.found)
