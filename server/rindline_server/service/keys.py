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
        row = self._row(key[:_PUBLIC], now)
        digest = sha256(key.encode()).digest()
        if row is None or not hmac.compare_digest(row.secret_hash, digest):
            return None
        if row.revoked_us is not None or (
            row.expires_us is not None and row.expires_us <= to_us(now)
        ):
            return None
        return Caller(
            key=row.prefix,
            name=row.name,
            role=row.role,
            site=row.site,
            partner=row.partner,
            expires_at=from_us(row.expires_us) if row.expires_us is not None else None,
        )

    def _row(self, prefix: str, now: datetime) -> KeyRow | None:
        found = self._found.get(prefix)
        if found is not None and _NO_TIME <= now - found[0] < _ONE_SECOND:
            return found[1]
        row = self._store.find_key(prefix)
        if row is not None:
            if len(self._found) >= _MOST_FOUND:
                self._found.clear()
            self._found[prefix] = now, row
        return row

    def all(self) -> list[KeyRow]:
        """Give all keys ever made, newest last; none can be told from its row."""
        return self._store.list_keys()

    def revoke(self, prefix: str, now: datetime) -> bool:
        """Revoke the key that begins like this; False if there is none, or it was revoked."""
        revoked = self._store.revoke_key(prefix, to_us(now))
        self._found.pop(prefix, None)
        return revoked
