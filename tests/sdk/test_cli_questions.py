"""The questions of the command line: what is asked, and what people read."""

import json
from uuid import UUID

import msgspec
import pytest

from rindline import EventMaker, Request
from rindline.testing import FakeClock, FakeServer
from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    DrillAnswer,
    LotPage,
    OriginAnswer,
    TraceAnswer,
)
from rindline_schema.events import Event, NewWheel
from tests.sdk.command_runs import Run, has_row
from tests.sdk.samples import (
    AT,
    DRILL,
    DRILL_ANSWER,
    MAKE,
    MILK,
    ORIGIN,
    PORTION,
    TRACE,
    WHEEL,
)

MAKER = EventMaker(FakeClock())


def test_origin_tells_where_a_piece_came_from(run: Run) -> None:
    """Wheel, make, milk with its shares, the hold, local times with offset, the safety note."""
    ran = run("origin", PORTION)
    assert (ran.code, ran.err) == (0, "")
    assert has_row(ran.out, "Product", "QB-WEDGE (Quillmere Blue, wedge)")
    assert has_row(ran.out, "Made", "2026-02-03 06:30+01:00")
    assert has_row(ran.out, MILK, "HERD-1 (Upper herd)", "40.0000")
    assert has_row(ran.out, "60.0000", "not yet recorded")
    assert has_row(ran.out, WHEEL, "2.400")
    assert has_row(ran.out, MAKE, "QM", "raw")
    assert has_row(ran.out, MILK, "inhibitors found")
    assert SAFETY_NOTE in ran.out


def test_a_lot_code_may_be_typed_in_small_letters(run: Run, server: FakeServer) -> None:
    """People type; the code is the same."""
    assert run("origin", PORTION.lower()).code == 0
    assert server.requests[0].path == f"/v1/lots/{PORTION}/origin"


def test_trace_lists_lots_and_edges(run: Run) -> None:
    """Counts, each lot with its distance and who holds it; what went into what if asked."""
    ran = run("trace", "forward", MILK, "--edges")
    assert ran.code == 0
    assert has_row(ran.out, "milk", "1", "412.000")
    assert has_row(ran.out, "1", MAKE, "make", "on hand", "QM VATS 41.005 kg")
    assert has_row(ran.out, MILK, MAKE, "412.000")
    assert "What went into what" not in run("trace", "forward", MILK).out


def test_a_drill_answers_the_recall(run: Run, server: FakeServer) -> None:
    """Counts, holders with documents, mass balance, what is amiss, how long it took, the note."""
    ran = run("drill", MILK, WHEEL, "--forward", "--live", "--reason", "inhibitors")
    assert ran.code == 0
    assert has_row(ran.out, "LIVE")
    assert has_row(ran.out, "wheel", "40", "1", "96.000")
    assert has_row(ran.out, "QM", "CAVE-1", "30", "30", "66.003")
    assert has_row(ran.out, "DN-7", "PK", "2", "2", "4.400")
    assert has_row(ran.out, "SHOP-3", "Corner shop", "3 Mill Lane", "1", "9", "2.250")
    assert has_row(
        ran.out, "SHOP-3", "delivery note DN-9", "2026-02-03 06:30+01:00", "1", "10", "2.500"
    )
    for title, figure in (("Made", "96.000"), ("Ripening loss", "1.400"), ("Samples", "0.050")):
        assert has_row(ran.out, title, figure)
    assert has_row(ran.out, "Unaccounted for", "0.002")
    assert has_row(ran.out, "Accounted for, %", "99.99")
    assert DRILL_ANSWER.pending[0] in ran.out
    assert "Discrepancies: none" in ran.out
    assert "Answered in 37 ms." in ran.out
    assert SAFETY_NOTE in ran.out
    asked = json.loads(server.requests[0].body or b"")
    assert asked["lots"] == [MILK, WHEEL]
    assert (asked["direction"], asked["purpose"]) == ("forward", "live")
    assert asked["reason"] == "inhibitors"
    assert UUID(asked["id"]).version == 7


def test_a_long_trace_is_a_plain_table(run: Run, server: FakeServer) -> None:
    """Beyond a thousand rows the table is plain text with the same cells, in straight columns."""
    lots = [msgspec.structs.replace(TRACE.lots[1], steps=step) for step in range(1001)]
    server.answer("trace", msgspec.structs.replace(TRACE, lots=lots))
    out = run("trace", "forward", MILK).out
    assert has_row(out, "1000", MAKE, "make", "on hand", "0.000", "QM VATS 41.005 kg")
    rows = [line for line in out.splitlines() if MAKE in line]
    assert len(rows) == 1001
    assert {(row.index(MAKE), row.index("kg")) for row in rows} == {(8, rows[0].index("kg"))}


@pytest.mark.parametrize("way", ["back", "forward"])
def test_a_drill_asks_in_the_direction_given(run: Run, server: FakeServer, way: str) -> None:
    """``--back`` and ``--forward`` are asked for; without either it is both, the default."""
    assert run("drill", MILK, f"--{way}").code == 0
    assert json.loads(server.requests[0].body or b"")["direction"] == way
    assert run("drill", MILK).code == 0
    assert "direction" not in json.loads(server.requests[1].body or b"")


def test_drills_are_listed_and_shown_again(run: Run, server: FakeServer) -> None:
    """The list, and one of them as it was answered."""
    assert has_row(run("drills").out, str(DRILL), "live", "forward", MILK, "office", "37")
    assert "Mass balance in kg" in run("drills", str(DRILL)).out
    assert server.requests[1].path == f"/v1/drills/{DRILL}"


def test_lots_are_searched(run: Run, server: FakeServer) -> None:
    """Every filter reaches the server; more than the limit is said on standard error."""
    _tell_wheels(server, 3)
    ran = run("lots", "--kind", "wheel", "--limit", "2")
    assert ran.code == 0
    assert len([line for line in ran.out.splitlines() if "QB-WHEEL" in line]) == 2
    assert has_row(ran.out, "wheel", "on hand", "QB-WHEEL", "QM", "2026-02-03 06:30+01:00", "2.400")
    assert ran.err == "rindline: there are more than 2: raise --limit to see them\n"
    query = {
        "product": "QB-WHEEL",
        "site": "QM",
        "state": "on_hand",
        "made_from": "2026-02-01",
        "made_to": "2026-02-28",
        "prefix": "QM26",
    }
    options = [f"--{name.replace('_', '-')}={text}" for name, text in query.items()]
    ran = run("lots", *options, "--not-held")
    assert dict(server.requests[-1].query) == query | {"held": "false"}
    assert ran.err == ""
    assert "none that fits" in run("lots", "--held").out


def test_a_long_list_takes_several_pages(run: Run, server: FakeServer) -> None:
    """A limit beyond a page is reached by asking on; exactly so many are given."""
    _tell_wheels(server, 1300)
    ran = run("lots", "--limit", "1200", "--json")
    page = msgspec.json.decode(ran.out, type=LotPage)
    assert len(page.lots) == len({lot.lot for lot in page.lots}) == 1200
    assert page.next_cursor is not None


def _tell_wheels(server: FakeServer, count: int) -> None:
    for start in range(0, count, 1000):
        wheels = [NewWheel(mass_g=2400)] * min(1000, count - start)
        event = MAKER.hoop(make=MAKE, product="QB-WHEEL", room="DRAIN", wheels=wheels, at=AT)
        server.send(_request(event), 1)


def _request(event: Event) -> Request:
    return Request("POST", "/v1/events", body=msgspec.json.encode(event))


def test_a_lot_is_shown(run: Run, server: FakeServer) -> None:
    """Who holds it, what became of the rest, what does not fit; also as of an earlier event."""
    ran = run("lot", WHEEL, "--as-of", "41")
    assert has_row(ran.out, "on hand", "QM", "CAVE-1", "1", "1.150")
    assert has_row(ran.out, "ripening loss", "0.250")
    assert has_row(ran.out, "heavier than before", WHEEL, "0.030", "gained", "open")
    assert server.requests[0].query == (("as_of", "41"),)


def test_discrepancies_are_listed(run: Run, server: FakeServer) -> None:
    """Open ones unless said otherwise, of one lot if said."""
    ran = run("discrepancies", "--show", "all", "--lot", WHEEL)
    assert has_row(ran.out, "0" * 24, "heavier than before", WHEEL)
    assert dict(server.requests[0].query) == {"show": "all", "lot": WHEEL}


def test_whoami_says_what_the_key_may(run: Run) -> None:
    """Name, role, and that it does not expire."""
    ran = run("whoami")
    assert has_row(ran.out, "Role", "manager")
    assert has_row(ran.out, "Expires", "never")


@pytest.mark.parametrize(
    ("arguments", "answer", "expected"),
    [
        (["origin", PORTION], OriginAnswer, ORIGIN),
        (["trace", "forward", MILK], TraceAnswer, TRACE),
        (["drill", MILK], DrillAnswer, DRILL_ANSWER),
        (["drills", str(DRILL)], DrillAnswer, DRILL_ANSWER),
    ],
)
def test_json_is_the_answer_itself(
    run: Run, arguments: list[str], answer: type, expected: object
) -> None:
    """With --json a program gets the contract's answer and nothing else on standard output."""
    ran = run(*arguments, "--json")
    assert (ran.code, ran.err) == (0, "")
    assert msgspec.json.decode(ran.out, type=answer) == expected


@pytest.mark.parametrize("command", ["drills", "lots", "discrepancies", "whoami", "lot"])
def test_every_command_has_json(run: Run, command: str) -> None:
    """The other commands print one JSON object, too."""
    ran = run(command, *([WHEEL] if command == "lot" else []), "--json")
    assert ran.code == 0
    assert isinstance(json.loads(ran.out), dict)
