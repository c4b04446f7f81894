"""Cursors: where the next page begins, in a form callers need not understand."""

from base64 import urlsafe_b64decode, urlsafe_b64encode

from rindline_server.service.problems import problem_error

__all__ = ["read_cursor", "write_cursor"]


def write_cursor(last: str) -> str:
    """Make the cursor that goes on after this key."""
    return urlsafe_b64encode(last.encode()).decode().rstrip("=")


def read_cursor(cursor: str | None) -> str | None:
    """Give the key a cursor goes on after; raises ProblemError ``bad_cursor``."""
    if cursor is None:
        return None
    try:
        key = urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
    except ValueError:
        raise problem_error("bad_cursor", f"{cursor!r} is not a cursor of ours") from None
    if not key or "\x00" in key or write_cursor(key) != cursor:
        raise problem_error("bad_cursor", f"{cursor!r} is not a cursor of ours")
    return key
