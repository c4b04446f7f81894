"""A lot's way out of its stays: each moment once, from where it ended back."""

from hypothesis import given
from hypothesis import strategies as st

from rindline_server.calc.itinerary import Berth, Departure, Leg, itinerary


@st.composite
def _stays(draw: st.DrawFn) -> list[Berth]:
    found = []
    for _ in range(draw(st.integers(0, 6))):
        begin = draw(st.integers(0, 30))
        lasts = draw(st.none() | st.integers(0, 15))
        place = draw(st.sampled_from(["A", "B", "C"]))
        found.append(Berth(place, begin, None if lasts is None else begin + lasts))
    return found


@given(_stays(), st.integers(0, 30), st.integers(0, 20), st.sampled_from([None, "A", "B"]))
def test_every_moment_is_covered_once(
    stays: list[Berth], from_us: int, lasts_us: int, end: str | None
) -> None:
    """However stays overlap or leave gaps, the legs follow one another from the first moment to
    the last, each within its stay; and a leg without one lies where there is none."""
    until_us = from_us + lasts_us
    legs = itinerary(stays, from_us, until_us, end)
    assert sum(leg.until_us - leg.from_us for leg in legs) == lasts_us
    here_us = from_us
    for leg in legs:
        assert leg.from_us == here_us < leg.until_us
        here_us = leg.until_us
        if leg.stay is None:
            continue
        stay = stays[leg.stay]
        assert stay.from_us <= leg.from_us
        assert stay.until_us is None or leg.until_us <= stay.until_us
    assert here_us == until_us
    for leg in legs:
        if leg.stay is None:
            # Times are whole here, so the last moment of a gap stands for all of it.
            last_us = leg.until_us - 1
            of_piece = [s for s in stays if leg is not legs[-1] or s.place == end]
            assert not any(
                s.from_us <= last_us and (s.until_us is None or s.until_us > last_us)
                for s in of_piece
            )


@given(_stays(), st.randoms(use_true_random=False))
def test_the_order_in_which_stays_are_given_does_not_matter(
    stays: list[Berth], random: object
) -> None:
    """The same stays in another order give the same legs at the same places."""
    shuffled = list(stays)
    random.shuffle(shuffled)  # type: ignore[attr-defined]

    def way(given_stays: list[Berth]) -> list[tuple[object, int, int]]:
        return [
            (None if leg.stay is None else given_stays[leg.stay], leg.from_us, leg.until_us)
            for leg in itinerary(given_stays, 0, 50, "A")
        ]

    assert way(stays) == way(shuffled)


@st.composite
def _departures(draw: st.DrawFn) -> list[Departure]:
    places = st.sampled_from(["A", "B", "C"])
    return draw(st.lists(st.builds(Departure, places, places, st.integers(0, 40)), max_size=4))


@given(_stays(), _departures(), st.integers(0, 30), st.integers(0, 20))
def test_departures_leave_no_moment_out(
    stays: list[Berth], departures: list[Departure], from_us: int, lasts_us: int
) -> None:
    """Whatever is told of departures, the legs still cover the time, each moment once."""
    here_us = from_us
    for leg in itinerary(stays, from_us, from_us + lasts_us, "A", departures):
        assert leg.from_us == here_us < leg.until_us
        here_us = leg.until_us
    assert here_us == from_us + lasts_us


def test_pieces_on_the_road_are_not_where_the_others_stayed() -> None:
    """Half of a lot left A at 10 and was at B from 12, in another room there from 20: seen from
    B the way is A until 10, then the road, though others were at A all the time."""
    stays = [Berth("A", 0, None), Berth("B", 12, 20), Berth("B", 20, None)]
    assert itinerary(stays, 0, 40, "B", [Departure("A", "B", 10)]) == [
        Leg(0, 0, 10),
        Leg(None, 10, 12),
        Leg(1, 12, 20),
        Leg(2, 20, 40),
    ]


def test_pieces_at_two_places_are_followed_from_where_they_ended() -> None:
    """Half of a lot went from A to B at 10 (there at 12), half stayed at A until 30. Seen from B
    the way is A, the road, B; seen from A it is A alone."""
    stays = [Berth("A", 0, 30), Berth("B", 12, None)]
    assert itinerary(stays, 0, 40, "B") == [Leg(0, 0, 12), Leg(1, 12, 40)]
    assert itinerary(stays, 0, 30, "A") == [Leg(0, 0, 30)]


def test_time_between_places_belongs_to_none() -> None:
    """Away from 10 to 12 and after 20: two legs of no stay."""
    stays = [Berth("A", 0, 10), Berth("B", 12, 20)]
    assert itinerary(stays, 0, 25) == [
        Leg(0, 0, 10),
        Leg(None, 10, 12),
        Leg(1, 12, 20),
        Leg(None, 20, 25),
    ]


def test_no_stay_at_all_is_one_leg_of_none() -> None:
    """Nothing told: the whole time without a stay; no time at all: no leg."""
    assert itinerary([], 5, 9) == [Leg(None, 5, 9)]
    assert itinerary([Berth("A", 0, None)], 5, 5) == []
