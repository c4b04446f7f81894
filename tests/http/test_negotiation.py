"""Content negotiation and entity tags. Expected values follow RFC 9110 as cited."""

import pytest

from rindline_server.http.negotiation import entity_tag, matches, preferred_type, takes_gzip

_OFFERED = ("application/json", "application/x-ndjson", "text/csv")


@pytest.mark.parametrize(
    ("accept", "chosen"),
    [
        (None, "application/json"),
        (b"", "application/json"),
        (b"*/*", "application/json"),
        (b"text/csv", "text/csv"),
        (b"TEXT/CSV;charset=utf-8", "text/csv"),
        (b"text/*", "text/csv"),
        (b"text/csv;q=0.5, application/x-ndjson", "application/x-ndjson"),
        (b"text/csv;q=0.9, */*;q=0.1", "text/csv"),
        (b"application/json;q=0, text/csv;q=0.1", "text/csv"),
        (b"image/png", "application/json"),
        (b"text/csv;q=x", "application/json"),
    ],
)
def test_the_media_type_preferred_is_given(accept: bytes | None, chosen: str) -> None:
    """The highest weight wins, the more precise range counts (RFC 9110, section 12.5.1)."""
    assert preferred_type(accept, _OFFERED) == chosen


@pytest.mark.parametrize(
    ("header", "taken"),
    [
        (None, False),
        (b"", False),
        (b"gzip", True),
        (b"br, gzip;q=0.5", True),
        (b"*", True),
        (b"gzip;q=0", False),
        (b"gzip;q=0.2, identity;q=0.8", False),
        (b"identity", False),
        (b"deflate", False),
        (b"gzip;q=0, *", False),
    ],
)
def test_gzip_is_sent_to_those_who_want_it(header: bytes | None, taken: bool) -> None:
    """Weights count, a named coding before `*`, and 0 means no (RFC 9110, section 12.5.3)."""
    assert takes_gzip(header) is taken


@pytest.mark.parametrize(
    ("header", "held"),
    [
        (None, False),
        (b'"xyzzy"', True),
        (b'W/"xyzzy"', True),
        (b'"xyzzy", "r2d2xxxx", "c3piozzzz"', True),
        (b'"other"', False),
        (b"*", True),
        (b"xyzzy", False),
    ],
)
def test_if_none_match_compares_weakly(header: bytes | None, held: bool) -> None:
    """The examples of RFC 9110, section 13.1.2, against the tag "xyzzy"."""
    assert matches(header, '"xyzzy"') is held


def test_a_tag_tells_its_parts_apart() -> None:
    """The same bytes cut elsewhere are other parts, so another tag."""
    assert entity_tag(b"ab", b"c") != entity_tag(b"a", b"bc")
    assert entity_tag(b"ab", b"c") == entity_tag(b"ab", b"c")
