"""A lot's way, whatever stays and cuts were told: it covers its time, each moment once."""

from hypothesis import given
from hypothesis import strategies as st

from rindline_server.ledger.entries import EntryKind
from rindline_server.service.conditions.told import Told
from rindline_server.service.conditions.way import way_of
from rindline_server.store import (
    LOT_KINDS,
    LOT_STATES,
    Ancestry,
    DeedRow,
    HoldingRow,
    KinRow,
    StayRow,
)

_NOW_US = 100
_TIMES = st.integers(0, _NOW_US)
_SITES = st.sampled_from(["QM", "QR"])
_ROOMS = st.sampled_from(["CAVE", "STORE", None])


def _lot(number: int, born_us: int | None, state: str) -> KinRow:
    kind = LOT_KINDS.index("portion" if number else "wheel")
    states: tuple[str, ...] = LOT_STATES
    return KinRow(number, f"LOT{number}", kind, states.index(state), None, born_us, None)


@st.composite
def _stays(draw: st.DrawFn, lot: int) -> list[StayRow]:
    found = []
    for _ in range(draw(st.integers(0, 4))):
        begin_us = draw(_TIMES)
        until_us = draw(st.none() | st.integers(begin_us, _NOW_US))
        found.append(StayRow(lot, draw(_SITES), draw(_ROOMS), begin_us, until_us))
    return found


@st.composite
def _deeds(draw: st.DrawFn, lot: KinRow) -> list[DeedRow]:
    def deed(kind: EntryKind, at_us: int, partner: str | None, to_site: str | None) -> DeedRow:
        site = draw(_SITES)
        return DeedRow(lot.id, 1, "e", kind, at_us, site, None, partner, to_site, None)

    born = [deed("born", lot.born_us, None, None)] if lot.born_us is not None else []
    sent = [
        deed("dispatch", at_us, *draw(st.sampled_from([("SHOP", None), (None, "QR")])))
        for at_us in sorted(draw(st.lists(_TIMES, max_size=3)))
    ]
    return born + sent


@st.composite
def _told(draw: st.DrawFn) -> Told:
    count = draw(st.integers(1, 3))
    state = draw(st.sampled_from(["on_hand", "in_transit", "with_partners", "used_up"]))
    born = [draw(st.none() | _TIMES), *(draw(_TIMES) for _ in range(count - 1))]
    lots = [
        _lot(i, born_us, "pending" if born_us is None else state) for i, born_us in enumerate(born)
    ]
    holding = HoldingRow(lots[-1].id, 0, draw(_SITES), None, None, 500, 1)
    return Told(
        ancestry=Ancestry(lots[-1], {lot.id: lot for lot in lots}, {}),
        ways=[[lot.id for lot in lots]],
        way_count=1,
        stays={lot.id: draw(_stays(lot.id)) for lot in lots},
        deeds={lot.id: draw(_deeds(lot)) for lot in lots},
        bodies={},
        holdings=draw(st.sampled_from([[], [holding]])),
        strangers=[],
        partner=draw(st.sampled_from([None, "SHOP"])),
        now_us=_NOW_US,
    )


@given(_told())
def test_a_way_covers_its_time_once(told: Told) -> None:
    """Of a wheel cut into a portion, and that into another, with any stays at two sites, told or
    not: lots follow one another, and so do the legs, from the beginning of the way to its end;
    so hours in rooms, without a room and away add up to all of it. Stays beside lie within their
    lot's time, and a customer is shown none."""
    way = way_of(told, told.ways[0])
    if way is None:
        return
    here_us = way.from_us
    for segment in way.segments:
        assert segment.from_us == here_us
        for leg in segment.legs:
            assert leg.from_us == here_us < leg.until_us
            here_us = leg.until_us
        assert here_us == segment.until_us
        for stay in segment.beside:
            assert segment.from_us <= stay.from_us < stay.until_us <= segment.until_us
            assert told.partner is None
    assert here_us == way.until_us
    spent_us = sum(leg.until_us - leg.from_us for leg in way.legs)
    assert spent_us == way.until_us - way.from_us
    assert [s.lot.id for s in way.segments] == told.ways[0]


@given(_told())
def test_nothing_told_of_a_lots_stay_is_lost(told: Told) -> None:
    """Legs and stays beside hold every moment of every stay within its lot's time on the way."""
    way = way_of(told, told.ways[0])
    if way is None or told.partner is not None:
        return
    for segment in way.segments:
        shown = [(t.site, t.room, t.from_us, t.until_us) for t in segment.legs + segment.beside]
        for stay in told.stays[segment.lot.id]:
            end_us = segment.until_us if stay.until_us is None else stay.until_us
            for at_us in range(max(stay.from_us, segment.from_us), min(end_us, segment.until_us)):
                assert any(
                    (site, room) == (stay.site, stay.room) and begin <= at_us < until
                    for site, room, begin, until in shown
                )
