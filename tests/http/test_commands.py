"""The server's command line: what it says when it can't begin, and what it writes."""

from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from rindline_server.cli import main
from rindline_server.commands import COMMANDS, ExitCode
from rindline_server.settings import Settings, SettingsError
from tests.databases import migrated_sqlite, session_folder, sqlite_url
from tests.http.serving import add_key, command, serving
from tests.structure.source import ROOT


def _run(*words: str, **environment: str) -> tuple[int, str]:
    process = command(*words, environment=environment)
    _, errors = process.communicate(timeout=60)
    return process.returncode, errors


def test_an_empty_database_is_not_served(tmp_path: Path) -> None:
    """It says which command to run, with an exit code of its own, and makes no file."""
    file = tmp_path / "new.db"
    code, errors = _run("serve", "--port", "0", RINDLINE_DATABASE_URL=str(sqlite_url(file)))
    assert code == ExitCode.NOT_MIGRATED
    assert "rindline-server migrate" in errors
    assert "Traceback" not in errors


def test_a_database_can_be_migrated_at_the_start(tmp_path: Path) -> None:
    """With --migrate an empty database is brought up and served."""
    url = str(sqlite_url(tmp_path / "new.db"))
    process = command(
        "serve", "--port", "0", "--migrate", environment={"RINDLINE_DATABASE_URL": url}
    )
    try:
        assert process.stdout is not None
        assert process.stdout.readline().startswith("Rindline answers at http://127.0.0.1:")
    finally:
        process.terminate()
        process.communicate(timeout=60)
    assert process.returncode == 0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("RINDLINE_PORT", "http"),
        ("RINDLINE_PORT", "99999"),
        ("RINDLINE_WORKERS", "0"),
        ("RINDLINE_BODY_S", "-1"),
    ],
)
def test_a_setting_that_cannot_be_is_named(name: str, value: str) -> None:
    """A wrong value in the environment ends the command with the setting's name."""
    code, errors = _run("serve", **{name: value})
    assert code == ExitCode.USAGE
    assert errors.startswith(f"rindline-server: {name}: ")


def test_a_port_in_use_is_told(tmp_path: Path) -> None:
    """A second server at the same address says so and ends; it does not share the callers."""
    url = str(migrated_sqlite(session_folder(), tmp_path / "record.db"))
    with serving(url, tmp_path) as server:
        code, errors = _run("serve", "--port", str(server.port), RINDLINE_DATABASE_URL=url)
    assert code == ExitCode.FAILED
    assert f"can't listen at 127.0.0.1, port {server.port}" in errors
    assert "Traceback" not in errors


def test_settings_are_read_and_handed_on_whole() -> None:
    """What a server reads, its workers read too; what is wrong is named."""
    settings = Settings.from_environment(
        {"RINDLINE_PORT": "9", "RINDLINE_STALL_S": "2.5", "X": "y"}
    )
    assert (settings.port, settings.stall_s, settings.host) == (9, 2.5, "127.0.0.1")
    assert Settings.from_environment(settings.environment()) == settings
    with pytest.raises(SettingsError, match="RINDLINE_WORKERS"):
        settings.but({"workers": 1000})


def test_every_command_explains_itself(capsys: pytest.CaptureFixture[str]) -> None:
    """Each is in the list with a line, and has a help of its own."""
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    listing = capsys.readouterr().out
    for name, one in COMMANDS.items():
        assert name in listing
        with pytest.raises(SystemExit) as ended:
            main([name, "--help"])
        assert ended.value.code == 0
        assert one.summary in capsys.readouterr().out.replace("\n", " ")


def test_the_written_papers_of_the_interface_are_fresh(tmp_path: Path) -> None:
    """schema/openapi.json and ERRORS.md are what the code gives; a changed file is noticed."""
    folder = ROOT / "schema"
    assert main(["export-openapi", str(folder), "--check"]) == ExitCode.DONE
    assert main(["export-openapi", str(tmp_path)]) == ExitCode.DONE
    for name in ("openapi.json", "ERRORS.md"):
        text = (tmp_path / name).read_bytes()
        assert text == (folder / name).read_bytes()
        (tmp_path / name).write_bytes(text + b" ")
        assert main(["export-openapi", str(tmp_path), "--check"]) == ExitCode.FAILED
        (tmp_path / name).write_bytes(text)


def test_the_document_goes_to_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a folder the document can be piped on."""
    assert main(["export-openapi"]) == ExitCode.DONE
    assert capsys.readouterr().out == (ROOT / "schema" / "openapi.json").read_text("utf-8")


def test_the_counts_of_all_workers_are_added_up(tmp_path: Path) -> None:
    """Whichever worker is asked for the metrics tells of them all."""
    url = str(migrated_sqlite(session_folder(), tmp_path / "record.db"))
    with serving(url, tmp_path, workers=2) as server:
        key = add_key(url, "auditor")
        with httpx.Client(base_url=server.url, headers={"connection": "close"}) as client:
            for _ in range(40):
                # A new connection each time, so that both workers get some.
                assert client.get("/health/live").is_success
        with server.client(key) as client:
            texts = [client.get("/metrics").text for _ in range(2)]
    for text in texts:
        counted = [
            sample.value
            for family in text_string_to_metric_families(text)
            for sample in family.samples
            if sample.name == "rindline_requests_total" and sample.labels["route"] == "/health/live"
        ]
        assert sum(counted) == 40
