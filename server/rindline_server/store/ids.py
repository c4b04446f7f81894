"""Ids of events: texts everywhere else, 16 bytes in the database."""

__all__ = ["id_bytes", "id_text"]


def id_bytes(text: str) -> bytes:
    """Turn an id with hyphens into its 16 bytes."""
    return bytes.fromhex(text.replace("-", ""))


def id_text(data: bytes) -> str:
    """Turn 16 bytes into the id with hyphens."""
    h = data.hex()
    return f"{h[:8]}-{h[8:12]}-{h[12:16]}-{h[16:20]}-{h[20:]}"
