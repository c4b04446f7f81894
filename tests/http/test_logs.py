"""The log: one line a request, and what must never be in it."""

import json
import logging
import sys
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest

from rindline_server.http.openapi.event_examples import EVENT_EXAMPLES
from rindline_server.observe.logs import JsonFormatter, configure_logs, logging_settings
from tests.http.conftest import Told

_SECRET = "OneSecretWord"


class _Lines(logging.Handler):
    """Keeps what would be written."""

    def __init__(self) -> None:
        super().__init__()
        self.setFormatter(JsonFormatter())
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(self.format(record))

    def requests(self) -> list[dict[str, Any]]:
        return [one for one in map(json.loads, self.lines) if one["message"] == "request"]


@pytest.fixture
def log() -> Iterator[_Lines]:
    lines = _Lines()
    logger = logging.getLogger("rindline_server")
    before = logger.level, logger.propagate
    logger.addHandler(lines)
    logger.setLevel(logging.INFO)
    yield lines
    logger.removeHandler(lines)
    logger.level, logger.propagate = before


def test_a_request_is_one_line(app: Told, log: _Lines) -> None:
    """Method, route template, status, time, request id and the key's public prefix."""
    with app.client("manager") as client:
        reply = client.get("/v1/lots?limit=5")
    (line,) = log.requests()
    assert line.pop("took_ms") >= 0
    assert line.pop("time").endswith("+00:00")
    assert line == {
        "level": "info",
        "logger": "rindline_server.http",
        "message": "request",
        "request_id": reply.headers["x-request-id"],
        "method": "GET",
        "route": "/v1/lots",
        "status": 200,
        "key": "key-manager",
    }


def test_neither_bodies_nor_keys_nor_addresses_are_logged(app: Told, log: _Lines) -> None:
    """Whatever goes wrong: what was sent is not in the log, nor is what an error quotes of it."""
    event = {**msgspec.to_builtins(EVENT_EXAMPLES["move"]), "note": _SECRET}
    app.service.raises = RuntimeError(f"could not write {_SECRET}")
    with app.client("station") as client:
        client.post("/v1/events", json=event)
        client.post("/v1/events", json={**event, _SECRET: 1})
        client.get(f"/v1/lots?prefix={_SECRET}")
        client.get("/v1/lots")
        client.get(f"/v1/lots/{_SECRET}")
        client.get(f"/nowhere/{_SECRET}")
    with app.client(_SECRET) as client:
        client.get("/v1/lots")
        client.get("/v1/lots", headers={"x-request-id": f"{_SECRET} {_SECRET}"})
    statuses = [line["status"] for line in log.requests()]
    assert statuses == [500, 400, 400, 500, 404, 404, 401, 401]
    assert _SECRET not in "\n".join(log.lines)


def test_an_unexpected_error_is_logged_with_its_place(app: Told, log: _Lines) -> None:
    """The kind of error, where it was raised, and the id of the request that met it."""
    app.service.raises = RuntimeError(_SECRET)
    with app.client("manager") as client:
        reply = client.get("/v1/lots")
    (line,) = [one for one in map(json.loads, log.lines) if one["level"] == "error"]
    assert line["error"] == "RuntimeError"
    assert line["request_id"] == reply.headers["x-request-id"]
    assert line["at"][-1].endswith(" lots")


def _fail_from(nothing: dict[str, int]) -> None:
    try:
        nothing[_SECRET] += 1
    except KeyError as error:
        raise ValueError(_SECRET) from error


def test_the_cause_of_an_error_is_named() -> None:
    """An error raised from another names both, innermost last."""
    try:
        _fail_from({})
    except ValueError:
        record = logging.LogRecord("x", logging.ERROR, "", 0, "failed", None, sys.exc_info())
    line = json.loads(JsonFormatter().format(record))
    assert line["error"] == "ValueError from KeyError"


def test_the_settings_of_the_log_are_sound(capsys: pytest.CaptureFixture[str]) -> None:
    """They can be put into force, and then lines of JSON come out on standard error."""
    names = list(logging_settings()["loggers"])
    before = {
        name: (one.level, one.propagate, list(one.handlers))
        for name in names
        for one in [logging.getLogger(name)]
    }
    try:
        configure_logs()
        logging.getLogger("rindline_server.test").info("hello")
        assert json.loads(capsys.readouterr().err)["message"] == "hello"
    finally:
        for name, (level, propagate, handlers) in before.items():
            logger = logging.getLogger(name)
            logger.level, logger.propagate, logger.handlers = level, propagate, handlers
