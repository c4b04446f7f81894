"""What one request tells: places kept, all or nothing, dry runs, ids told again."""

from typing import Any

import msgspec
import pytest

from rindline_schema.answers import Refused, Told
from rindline_schema.events import Correct, Cut, Event, Move, Receive, Weigh
from rindline_schema.params import FeedParams, TraceParams
from rindline_schema.problems import make_problem
from rindline_server.service import ProblemError, Service
from tests.service.callers import ANSWER_S, MANAGER, STATION, recorded, refused, tell
from tests.service.dairy import NOW, Dairy


@pytest.fixture
def dairy(service: Service) -> Dairy:
    dairy = Dairy()
    recorded(service, dairy.declared())
    return dairy


_NO_PARAMS = TraceParams()


def _fields(event: Receive) -> dict[str, Any]:
    return msgspec.structs.asdict(event)


def _unreadable() -> Refused:
    return Refused(id="not an id", problem=make_problem("malformed", "it was no event"))


def _nowhere(dairy: Dairy, lot: str | None) -> Event:
    return dairy.event(Move, lots=[lot], room="NO-SUCH-ROOM")


def test_outcomes_keep_their_places(service: Service) -> None:
    """What could not be read, what is refused and what is recorded answer where they were told."""
    dairy = Dairy()
    declared = recorded(service, dairy.declared())
    milk, more = dairy.milk(1_000), dairy.milk(2_000)
    unreadable = _unreadable()
    outcomes = tell(
        service, [unreadable, milk, _nowhere(dairy, milk.lot), unreadable, more, unreadable]
    )
    assert [type(outcome) for outcome in outcomes] == [
        *(Refused, Told, Refused),
        *(Refused, Told, Refused),
    ]
    assert outcomes[0] == outcomes[3] == outcomes[5] == unreadable
    first, second, third = outcomes[1], outcomes[2], outcomes[4]
    assert isinstance(first, Told)
    assert isinstance(second, Refused)
    assert isinstance(third, Told)
    assert second.problem.code == "not_declared"
    last = declared[-1].seq
    assert (first.id, first.seq, third.id, third.seq) == (milk.id, last + 1, more.id, last + 2)
    assert first.recorded_at == NOW
    assert service.head()[0] == last + 2


def test_nothing_told_is_nothing_answered(service: Service) -> None:
    """An empty request is answered with no outcome."""
    assert tell(service, []) == []


def test_all_or_nothing_leaves_nothing(service: Service, dairy: Dairy) -> None:
    """With one event refused none is recorded, others are not told, and their ids stay unused."""
    head = service.head()
    milk, wrong = dairy.milk(1_000), _nowhere(dairy, None)
    weigh = dairy.event(Weigh, lot=milk.lot, mass_g=990)
    outcomes = service.tell(
        MANAGER, [milk, _unreadable(), wrong, weigh], all_or_nothing=True
    ).result(ANSWER_S)
    problems = [outcome.problem.code for outcome in outcomes if isinstance(outcome, Refused)]
    assert problems == ["not_told", "malformed", "not_declared", "not_told"]
    assert service.head() == head
    with pytest.raises(ProblemError):
        service.event(MANAGER, milk.id)
    told = service.tell(MANAGER, [milk, weigh], all_or_nothing=True).result(ANSWER_S)
    assert [isinstance(o, Told) and not o.replay for o in told] == [True, True]
    assert service.head()[0] == head[0] + 2


def test_all_or_nothing_does_not_carry_others_away(service: Service, dairy: Dairy) -> None:
    """Only the request that asked for it is left out of a commit that several share."""
    head = service.head()[0]
    before, after = dairy.milk(1_000), dairy.milk(1_000)
    first = service.tell(MANAGER, [before])
    none = service.tell(MANAGER, [dairy.milk(1), _nowhere(dairy, None)], all_or_nothing=True)
    last = service.tell(MANAGER, [after])
    assert [isinstance(o, Refused) for o in none.result(ANSWER_S)] == [True, True]
    seqs = [o.seq for f in (first, last) for o in f.result(ANSWER_S) if isinstance(o, Told)]
    assert seqs == [head + 1, head + 2]


def test_what_was_told_before_stays_so_when_nothing_new_is_recorded(
    service: Service, dairy: Dairy
) -> None:
    """In an all-or-nothing request that fails, an id recorded earlier still says that it is."""
    milk = dairy.milk(1_000)
    (told,) = recorded(service, [milk])
    again, wrong = service.tell(MANAGER, [milk, _nowhere(dairy, None)], all_or_nothing=True).result(
        ANSWER_S
    )
    assert isinstance(again, Told)
    assert (again.seq, again.replay) == (told.seq, True)
    assert isinstance(wrong, Refused)


def test_a_dry_run_answers_the_same_and_records_nothing(service: Service, dairy: Dairy) -> None:
    """Telling after a dry run gives its very outcomes, codes and warnings; in between, nothing."""
    head = service.head()
    milk: Event = dairy.event(Receive, product="MILK", supplier="HERD-A", mass_g=5_000)
    pending = dairy.code("wheel")
    events = [milk, dairy.cut(pending, dairy.piece(100)), _nowhere(dairy, pending), milk]
    tried = service.try_events(MANAGER, [*events, _unreadable()])
    assert service.head() == head
    with pytest.raises(ProblemError):
        service.event(MANAGER, milk.id)
    with pytest.raises(ProblemError):
        service.trace(MANAGER, pending, "back", _NO_PARAMS)
    assert tried == tell(service, [*events, _unreadable()])
    given, cut, move, again, unreadable = tried
    assert isinstance(given, Told)
    assert [code.pointer for code in given.lots] == ["/lot"]
    assert isinstance(cut, Told)
    assert [warning.code for warning in cut.warnings] == ["pending"]
    assert isinstance(move, Refused)
    assert isinstance(again, Told)
    assert again.replay
    assert isinstance(unreadable, Refused)
    assert service.head()[0] == head[0] + 2


def test_the_same_id_again_gives_the_first_answer(service: Service, dairy: Dairy) -> None:
    """Same content: the first answer marked as replay, codes and warnings too; no second event."""
    pending = dairy.code("wheel")
    cut = dairy.event(
        Cut, lot=pending, pieces=[dairy.piece(500), dairy.piece(400)], note="told twice"
    )
    unnamed = dairy.event(Receive, product="MILK", supplier="HERD-A", mass_g=5_000)
    first = recorded(service, [cut, unnamed])
    head = service.head()
    again = recorded(service, [cut, unnamed])
    assert service.head() == head
    assert [answer.replay for answer in first + again] == [False, False, True, True]
    for one, other in zip(first, again, strict=True):
        assert (one.id, one.seq, one.recorded_at) == (other.id, other.seq, other.recorded_at)
        assert (one.lots, one.warnings) == (other.lots, other.warnings)
    assert first[0].warnings
    assert first[1].lots


def test_the_same_id_with_other_content_is_refused(service: Service, dairy: Dairy) -> None:
    """Other content under a used id changes nothing, and neither does it within one request."""
    milk = dairy.milk(1_000)
    other = dairy.event(Receive, **_fields(milk) | {"mass_g": 1_001})
    outcomes = tell(service, [milk, other])
    assert isinstance(outcomes[0], Told)
    assert isinstance(outcomes[1], Refused)
    assert outcomes[1].problem.code == "id_reused"
    assert refused(service, other).problem.code == "id_reused"
    assert service.event(MANAGER, milk.id).event == milk


def test_the_id_of_a_replacement_is_used_as_well(service: Service, dairy: Dairy) -> None:
    """The id of what a correction carries can be told neither alone nor in another correction."""
    milk = dairy.milk(1_000)
    right = dairy.event(Receive, **_fields(milk) | {"id": dairy.id(), "mass_g": 1_100})
    correct = dairy.event(Correct, event=milk.id, reason="misread", replacement=right)
    recorded(service, [milk, correct])
    assert refused(service, right).problem.code == "id_reused"
    other = dairy.event(Correct, event=dairy.id(), reason="misread", replacement=right)
    assert refused(service, other).problem.code == "id_reused"
    assert service.event(MANAGER, milk.id).voided_by == correct.id


def test_content_is_what_the_station_told(service: Service, dairy: Dairy) -> None:
    """A site left out is filled in by the key, and the same event again is still the same."""
    milk = dairy.event(Receive, **_fields(dairy.milk(1_000)) | {"site": None, "id": dairy.id()})
    (told,) = recorded(service, [milk], STATION)
    (again,) = recorded(service, [milk], STATION)
    assert (again.seq, again.replay) == (told.seq, True)
    assert service.event(STATION, milk.id).event.site == "QM"
    assert service.event(STATION, milk.id).station == STATION.name


def test_the_feed_gives_every_event_once_in_order(service: Service, dairy: Dairy) -> None:
    """Page by page, with no gap and none twice, up to the seq the page says it holds for."""
    recorded(service, [dairy.milk(100) for _ in range(25)])
    seqs, after, more = [], 0, True
    while more:
        page = service.feed(MANAGER, FeedParams(after=after, limit=10))
        assert len(page.events) <= 10
        seqs += [event.seq for event in page.events]
        assert page.next_after > after
        after, more = page.next_after, page.more
    assert seqs == list(range(1, service.head()[0] + 1))
    assert page.events[-1].hash == service.head()[1]
    empty = service.feed(MANAGER, FeedParams(after=after + 5))
    assert (empty.events, empty.more) == ([], False)
