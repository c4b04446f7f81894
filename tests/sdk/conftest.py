"""What the tests of the command line share: a fake server, and a way to run a command."""

import time
from collections.abc import Iterator

import pytest

from rindline.cli import main
from rindline.testing import FakeServer
from rindline_schema.answers import (
    DiscrepancyPage,
)
from tests.sdk.command_runs import Ran, Run
from tests.sdk.samples import (
    DRILL_ANSWER,
    DRILLS,
    LOT,
    ORIGIN,
    TRACE,
)


@pytest.fixture
def server() -> FakeServer:
    """Gives a fake server that knows the sample answers."""
    fake = FakeServer()
    fake.answer("origin", ORIGIN)
    fake.answer("trace", TRACE)
    fake.answer("start_drill", DRILL_ANSWER)
    fake.answer("drill", DRILL_ANSWER)
    fake.answer("drills", DRILLS)
    fake.answer("lot", LOT)
    fake.answer("discrepancies", DiscrepancyPage(discrepancies=LOT.discrepancies, as_of=41))
    return fake


@pytest.fixture
def run(
    server: FakeServer, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Iterator[Run]:
    """Gives a way to run the command line against the fake, in a zone an hour east of UTC."""
    for name in ("RINDLINE_KEY", "RINDLINE_SERVER", "NO_COLOR", "COLUMNS", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TZ", "ABC-1")
    time.tzset()

    def command(*arguments: str) -> Ran:
        code = main(arguments, transport=server)
        out, err = capsys.readouterr()
        return Ran(code, out, err)

    yield command
    monkeypatch.undo()
    time.tzset()
