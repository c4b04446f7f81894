"""UUID version 7, against the example of RFC 9562."""

from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rindline_schema.uuid7 import uuid7, uuid7_unix_ms

# RFC 9562, appendix A.6: 2022-02-22 14:22:22.00 GMT-05:00.
_EXAMPLE = UUID("017F22E2-79B0-7CC3-98C4-DC0C0C07398F")
_WHEN = datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)


def test_the_example_of_the_rfc() -> None:
    """Its milliseconds read out, and built again from them and its 74 random bits."""
    unix_ms = int(_WHEN.timestamp() * 1000)
    assert uuid7_unix_ms(_EXAMPLE) == unix_ms
    assert uuid7(unix_ms, _EXAMPLE.bytes[6:]) == _EXAMPLE


@given(st.integers(0, (1 << 48) - 1), st.binary(min_size=10, max_size=10))
def test_ids_have_version_and_variant_and_sort_by_time(unix_ms: int, bits: bytes) -> None:
    """Whatever the random bytes say: version 7, the RFC's variant, the milliseconds in front."""
    made = uuid7(unix_ms, bits)
    assert made.version == 7
    assert made.variant == "specified in RFC 4122"
    assert uuid7_unix_ms(made) == unix_ms
    if unix_ms < (1 << 48) - 1:
        assert str(made) < str(uuid7(unix_ms + 1, b"\0" * 10))


def test_other_versions_carry_no_time() -> None:
    """A random UUID is refused."""
    with pytest.raises(ValueError, match="not a UUID of version 7"):
        uuid7_unix_ms(uuid4())
