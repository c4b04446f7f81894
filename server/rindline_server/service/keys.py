"""Keys: 256 random bits behind a recognisable beginning, with a checksum.

``rindline_`` + 64 hexadecimal digits + 8 of CRC-32. A mistyped or cut key is told from an unknown
one without a look into the database. Stored are the first 8 digits and the SHA-256 of the whole.
"""

import hmac
import re
import secrets
import zlib
from datetime import datetime, timedelta
from hashlib import sha256

from rindline_schema.answers import Role
from rindline_server.ledger.times import from_us, to_us
from rindline_server.service.callers import Caller
from rindline_server.service.problems import problem_error
from rindline_server.store import KeyRow, Store

__all__ = ["KeyDesk"]

_START = "rindline_"
_SHAPE = re.compile(rf"{_START}[0-9a-f]{{72}}")
_PUBLIC = len(_START) + 8
_NO_TIME, _ONE_SECOND = timedelta(0), timedelta(seconds=1)
_MOST_FOUND = 10_000


def _checksum(digits: str) -> str:
    return f"{zlib.crc32(digits.encode()):08x}"


def _new_key() -> str:
    digits = secrets.token_hex(32)
    return f"{_START}{digits}{_checksum(digits)}"


def _holder(row: KeyRow, key: str, now: datetime) -> Caller | None:
    """Give the holder of a key if this row is its own, and it is in force."""
    if not hmac.compare_digest(row.secret_hash, sha256(key.encode()).digest()):
        return None
    if row.revoked_us is not None or (row.expires_us is not None and row.expires_us <= to_us(now)):
        return None
    return Caller(
        key=row.prefix,
        name=row.name,
        role=row.role,
        site=row.site,
        partner=row.partner,
        expires_at=from_us(row.expires_us) if row.expires_us is not None else None,
    )


class KeyDesk:
    """Gives keys out, recognises them, revokes them.

    A key that was found is not looked up again within a second: a key revoked by another process
    is refused a second later at most, one revoked here at once.
    """

    def __init__(self, store: Store) -> None:
        """Take the store the keys are in."""
        self._store = store
        self._found: dict[str, tuple[datetime, KeyRow]] = {}

    def add(
        self,
        name: str,
        role: Role,
        now: datetime,
        *,
        site: str | None = None,
        partner: str | None = None,
        expires_at: datetime | None = None,
    ) -> str:
        """Make a key and give it: this is the only time it can be seen.

        Raises ProblemError ``not_valid`` if a station has no site or a customer no partner.
        """
        if role == "station" and site is None:
            raise problem_error("not_valid", "a station's key belongs to a site")
        if role == "customer" and partner is None:
            raise problem_error("not_valid", "a customer's key belongs to a partner")
        key = _new_key()
        self._store.add_key(
            KeyRow(
                prefix=key[:_PUBLIC],
                secret_hash=sha256(key.encode()).digest(),
                name=name,
                role=role,
                site=site,
                partner=partner,
                created_us=to_us(now),
                expires_us=to_us(expires_at) if expires_at is not None else None,
                revoked_us=None,
            )
        )
        return key

    def who(self, key: str, now: datetime) -> Caller | None:
        """Give the holder of a key; None if it is unknown, expired or revoked."""
        if not _SHAPE.fullmatch(key) or _checksum(key[len(_START) : -8]) != key[-8:]:
            return None
        row = self._found_lately(key, now)
        if row is None:
            row = self._store.find_key(key[:_PUBLIC])
            if row is None:
                return None
            if len(self._found) >= _MOST_FOUND:
                self._found.clear()
            self._found[row.prefix] = now, row
        return _holder(row, key, now)

    def who_lately(self, key: str, now: datetime) -> Caller | None:
        """Give the holder of a key that was found within the last second; asks no database.

        None says nothing about the key.
        """
        row = self._found_lately(key, now)
        return _holder(row, key, now) if row is not None else None

    def _found_lately(self, key: str, now: datetime) -> KeyRow | None:
        found_at, row = self._found.get(key[:_PUBLIC], (now, None))
        return row if _NO_TIME <= now - found_at < _ONE_SECOND else None

    def all(self) -> list[KeyRow]:
        """Give all keys ever made, newest last; none can be told from its row."""
        return self._store.list_keys()

    def revoke(self, prefix: str, now: datetime) -> bool:
        """Revoke the key that begins like this; False if there is none, or it was revoked."""
        revoked = self._store.revoke_key(prefix, to_us(now))
        self._found.pop(prefix, None)
        return revoked
