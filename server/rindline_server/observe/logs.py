"""Structured logs: one JSON object a line, from the standard library's logging.

What is never logged: bodies, keys (only their public prefix), the values of query parameters.
An exception's own words may quote any of these (a database's do), so of an error only the types
and the places in the code are written.
"""

import logging
import logging.config
import traceback
from datetime import UTC, datetime
from typing import Any

import msgspec

__all__ = ["JsonFormatter", "configure_logs", "logging_settings"]

_ENCODER = msgspec.json.Encoder(enc_hook=str)


class JsonFormatter(logging.Formatter):
    """Writes a record as one JSON object; ``extra={"fields": {...}}`` adds members."""

    def format(self, record: logging.LogRecord) -> str:
        """Give the line for a record."""
        line: dict[str, Any] = {
            # The record's own time: the log tells when something was said, not when written.
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        fields = getattr(record, "fields", None)
        if fields is not None:
            line.update(fields)
        if record.exc_info and record.exc_info[1] is not None:
            line["error"], line["at"] = _without_words(record.exc_info[1])
        return _ENCODER.encode(line).decode()


def _without_words(error: BaseException) -> tuple[str, list[str]]:
    """Give an error's type (and its causes') and where it came from, innermost call last."""
    kinds: list[str] = []
    link: BaseException | None = error
    while link is not None and len(kinds) < 10:
        kinds.append(type(link).__qualname__)
        link = link.__cause__ or link.__context__
    frames = traceback.extract_tb(error.__traceback__)
    return " from ".join(kinds), [f"{f.filename}:{f.lineno} {f.name}" for f in frames]


def logging_settings() -> dict[str, Any]:
    """Give the settings for ``logging.config.dictConfig``: JSON lines to standard error."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"json": {"()": f"{__name__}.JsonFormatter"}},
        "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "json"}},
        "loggers": {
            "rindline_server": {"handlers": ["stderr"], "level": "INFO", "propagate": False},
            "rindline": {"handlers": ["stderr"], "level": "INFO", "propagate": False},
            # The HTTP server repeats itself for every chunk a vanished reader doesn't take.
            "_granian": {"handlers": ["stderr"], "level": "WARNING", "propagate": False},
        },
    }


def configure_logs() -> None:
    """Make this process write its logs as JSON lines to standard error."""
    logging.config.dictConfig(logging_settings())
