"""``rindline outbox`` for the person beside the station."""

from collections.abc import Callable
from pathlib import Path
from uuid import UUID

import msgspec
import pytest

from rindline.cli import main
from rindline.outbox import Outbox, OutboxStatus
from rindline.testing import FakeServer
from rindline_schema.problems import make_problem
from tests.sdk.command_runs import Ran, has_row
from tests.stations.outbox_parts import weighing

Run = Callable[..., Ran]


@pytest.fixture
def server() -> FakeServer:
    fake = FakeServer()
    refused = make_problem("not_enough", "only 100 g are left")
    fake.refuse_when(lambda event: refused if event.note == "wrong" else None)
    return fake


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "outbox.db"


@pytest.fixture
def run(
    server: FakeServer,
    path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> Run:
    """Gives a way to run ``rindline outbox FILE`` with more arguments, on a wide screen."""
    for name in ("RINDLINE_KEY", "RINDLINE_SERVER", "COLUMNS", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)

    def command(*arguments: str) -> Ran:
        code = main(["outbox", str(path), *arguments], transport=server)
        return Ran(code, *capsys.readouterr())

    return command


@pytest.fixture
def wrong(path: Path) -> UUID:
    """Tells three events, the second of which will be refused; gives its id."""
    with Outbox(path) as outbox:
        return outbox.tell_many([weighing(note) for note in ("1", "wrong", "3")])[1].id


def test_it_says_how_the_outbox_is_doing(run: Run, wrong: UUID) -> None:
    """Depth, oldest age, numbers not recorded, whether anybody sends; as JSON on request."""
    ran = run()
    assert ran.code == 0
    for cells in (("Queued", "3"), ("Set aside", "0"), ("Not recorded", "1-3"), ("Oldest", "0 h")):
        assert has_row(ran.out, *cells)
    assert has_row(ran.out, "Sending", "no process")
    # --json stands before the action or after the file, as with every command.
    status = msgspec.json.decode(run("--json").out, type=OutboxStatus)
    assert (status.queued, status.next_number, status.draining) == (3, 4, False)


def test_a_refused_event_is_listed_shown_mended_and_sent(
    run: Run, wrong: UUID, server: FakeServer, tmp_path: Path
) -> None:
    """The whole way of a person who mends: exit code 1 as long as something is set aside."""
    sent = run("send")
    assert sent.code == 1
    listed = run("list")
    assert listed.code == 1
    assert has_row(listed.out, "2", "weigh", str(wrong), "set aside: not_enough: only 100 g")
    shown = run("show", str(wrong), "--event")
    event = msgspec.json.decode(shown.out)
    assert (shown.code, event["note"]) == (0, "wrong")
    file = tmp_path / "mended.json"
    file.write_bytes(msgspec.json.encode({**event, "note": "right"}))
    assert run("retry").out == "1 queued again\n"
    assert run("send").code == 1
    mended = run("mend", str(wrong), str(file))
    assert "number 4" in mended.out
    assert run("send").code == 0
    assert has_row(run("list", "--all").out, "2", str(wrong), "mended: told anew as")
    assert [told.event.note for told in server.told] == ["1", "3", "right"]


def test_an_id_stays_whole_on_a_narrow_screen(
    run: Run, wrong: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a screen of 80 columns the list is still read, and an id can be copied from it."""
    monkeypatch.setenv("COLUMNS", "80")
    assert has_row(run("list").out, "2", "weigh", str(wrong), "queued")


def test_what_cannot_be_sent_gives_an_exit_code_of_its_own(
    run: Run, wrong: UUID, server: FakeServer
) -> None:
    """Exit code 5 if something is still queued, with the reason."""
    server.lose_next_request(10_000)
    ran = run("--timeout", "0.2", "send")
    assert ran.code == 5
    assert has_row(ran.out, "Last error", "did not get the request")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("show", "019c0000-0000-7000-8000-000000000001"), "no event"),
        (("retry", "019c0000-0000-7000-8000-000000000001"), "no event"),
    ],
)
def test_an_unknown_event_is_wrong_usage(
    run: Run, wrong: UUID, arguments: tuple[str, ...], said: str
) -> None:
    """Exit code 2, and the outbox is as it was."""
    ran = run(*arguments)
    assert ran.code == 2
    assert said in ran.err


def test_a_mistyped_file_name_makes_no_outbox(run: Run, path: Path) -> None:
    """A file that is not there is an error, not an empty outbox."""
    ran = run()
    assert ran.code == 2
    assert "There is no outbox" in ran.err
    assert not path.exists()
