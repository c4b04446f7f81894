"""UUID version 7 (RFC 9562, section 5.7): ids that sort by the time they were made."""

from uuid import UUID

__all__ = ["uuid7", "uuid7_unix_ms"]


def uuid7(unix_ms: int, random_bytes: bytes) -> UUID:
    """Build a UUIDv7 from milliseconds since 1970 and ten random bytes."""
    value = (unix_ms & ((1 << 48) - 1)) << 80 | int.from_bytes(random_bytes[:10], "big")
    value = value & ~(0xF << 76) | 0x7 << 76
    value = value & ~(0x3 << 62) | 0x2 << 62
    return UUID(int=value)


def uuid7_unix_ms(value: UUID) -> int:
    """Give the milliseconds since 1970 inside a UUIDv7; raises ValueError for other versions."""
    if value.version != 7:
        raise ValueError(f"{value} is not a UUID of version 7")
    return value.int >> 80
