"""What both clients share: the settings of a connection, and the small pure steps around calls."""

from dataclasses import replace
from importlib.metadata import PackageNotFoundError, version
from typing import Protocol, TypeVar

from rindline._wire import Call, Request
from rindline.errors import InvalidInputError

__all__ = ["DEFAULT_SERVER", "PAGE_ENTRIES", "Page", "Sender", "told_note"]

T = TypeVar("T")


class _HasNext(Protocol):
    @property
    def next_cursor(self) -> str | None: ...


Page = TypeVar("Page", bound=_HasNext)
"""A page of any list."""

DEFAULT_SERVER = "http://127.0.0.1:8040"
PAGE_ENTRIES = 500
"""Entries a page when all pages are wanted: few requests, and none of them large."""


class Sender:
    """Puts the key and the SDK's name on each request. Its repr does not show the key."""

    def __init__(self, key: str | None) -> None:
        self._headers = {"user-agent": f"rindline/{_version()}"}
        if key is not None:
            key = key.strip()
            if not key or not key.isascii() or not key.isprintable() or " " in key:
                raise InvalidInputError(
                    "That is not a key: a key is one word of letters, digits and signs."
                )
            self._headers["authorization"] = f"Bearer {key}"

    def signed(self, call: Call[T]) -> Request:
        """Give the call's request with the headers every request has."""
        return replace(call.request, headers={**self._headers, **call.request.headers})


def told_note(count: int, what: str = "events") -> str:
    """Say, on an error in the middle of many things to tell, how far the telling came."""
    return (
        f"{count} {what} before this batch have their outcome. Telling all of them again is safe: "
        "each is recorded once."
    )


def _version() -> str:
    try:
        return version("rindline")
    except PackageNotFoundError:
        return "unknown"
