"""Keys: what they look like, who is let in, and that the database never holds one."""

import re
import zlib
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.service import ProblemError, Service
from rindline_server.store import Store
from tests.service.dairy import NOW


class _Clock:
    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> _Clock:
    return _Clock()


@pytest.fixture
def service(store: Store, clock: _Clock) -> Service:
    """Keys need no writer, so this one is not started."""
    return Service(store, clock, ScaleTolerance())


def test_keys_look_alike_and_differ(service: Service) -> None:
    """Constant shape: a recognisable beginning, 64 random digits, CRC-32; no two share them."""
    keys = [service.add_key(f"scale {i}", "station", site="QM") for i in range(40)]
    assert len({key[:-8] for key in keys}) == 40
    for key in keys:
        assert re.fullmatch(r"rindline_[0-9a-f]{72}", key)
        digits = key.removeprefix("rindline_")[:-8]
        assert key[-8:] == f"{zlib.crc32(digits.encode()):08x}"


def test_a_key_says_who_asks(service: Service) -> None:
    """Name, role, site, partner and expiry come back as they were given."""
    until = NOW + timedelta(days=30)
    station = service.who(service.add_key("scale", "station", site="QM", expires_at=until))
    assert station is not None
    assert (station.name, station.role, station.site, station.partner, station.expires_at) == (
        *("scale", "station", "QM", None, until),
    )
    shop = service.who(service.add_key("shop", "customer", partner="SHOP-A"))
    assert shop is not None
    assert (shop.role, shop.site, shop.partner, shop.expires_at) == (
        "customer",
        None,
        "SHOP-A",
        None,
    )


@pytest.mark.parametrize("role", ["station", "customer"])
def test_some_roles_belong_somewhere(service: Service, role: Any) -> None:
    """A station without a site and a customer without a partner get no key."""
    with pytest.raises(ProblemError) as error:
        service.add_key("nowhere", role)
    assert error.value.problem.code == "not_valid"
    assert service.list_keys() == []


def test_wrong_keys_are_nobody(service: Service) -> None:
    """Any one digit wrong, cut short, made longer, dressed up, or of another server: nobody."""
    key = service.add_key("office", "manager")
    assert service.who(key) is not None
    wrong = [key[:i] + ("1" if key[i] == "0" else "0") + key[i + 1 :] for i in range(9, len(key))]
    digits = "ab" * 32
    stranger = f"rindline_{digits}{zlib.crc32(digits.encode()):08x}"
    # A key of the same beginning, with a checksum that is right for it.
    sibling_digits = key[9:17] + digits[8:]
    sibling = f"rindline_{sibling_digits}{zlib.crc32(sibling_digits.encode()):08x}"
    wrong += [key[:-1], key + "0", f" {key}", f"{key}\n", key.upper(), "", key[:17]]
    wrong += [stranger, sibling]
    assert [text for text in wrong if service.who(text) is not None] == []


def test_a_wrong_checksum_is_not_looked_up(
    service: Service, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A mistyped key costs no look into the database."""
    key = service.add_key("office", "manager")
    asked = []
    real = store.find_key

    def watched(prefix: str) -> Any:
        asked.append(prefix)
        return real(prefix)

    monkeypatch.setattr(store, "find_key", watched)
    last = "1" if key[-1] == "0" else "0"
    assert service.who(key[:-1] + last) is None
    assert asked == []
    assert service.who(key) is not None
    assert asked == [key[:17]]


def test_a_key_ends_at_its_expiry(service: Service, clock: _Clock) -> None:
    """It is good until just before the moment it expires, whatever zone that was given in."""
    until = (NOW + timedelta(hours=1)).astimezone(UTC)
    key = service.add_key("scale", "station", site="QM", expires_at=until)
    clock.now = until - timedelta(microseconds=1)
    assert service.who(key) is not None
    clock.now = until
    assert service.who(key) is None


def test_a_revoked_key_is_nobody(service: Service, clock: _Clock) -> None:
    """From its revocation on it is nobody's; others stay; it stays listed with the moment."""
    lost, kept = service.add_key("lost", "auditor"), service.add_key("kept", "auditor")
    clock.now += timedelta(minutes=5)
    assert service.revoke_key(lost[:17])
    assert service.who(lost) is None
    assert service.who(kept) is not None
    assert not service.revoke_key(lost[:17]), "it was revoked before"
    assert not service.revoke_key("rindline_00000000"), "nobody's"
    rows = {row.name: row for row in service.list_keys()}
    assert rows["lost"].revoked_us is not None
    assert rows["kept"].revoked_us is None


def test_a_key_revoked_elsewhere_is_nobody_within_a_second(
    service: Service, store: Store, clock: _Clock
) -> None:
    """A server that has just let a key in looks again before a second is over, not earlier."""
    key = service.add_key("lost", "auditor")
    assert service.who(key) is not None
    assert Service(store, clock, ScaleTolerance()).revoke_key(key[:17])
    clock.now += timedelta(seconds=1, microseconds=-1)
    assert service.who(key) is not None
    clock.now += timedelta(microseconds=1)
    assert service.who(key) is None


def test_who_called_lately_is_known_without_a_look(service: Service, clock: _Clock) -> None:
    """For a second after it was found, in force, and with the very same secret; not before."""
    until = NOW + timedelta(seconds=10, milliseconds=500)
    key = service.add_key("scale", "station", site="QM", expires_at=until)
    wrong = f"{key[:20]}{'0' if key[20] != '0' else '1'}{key[21:]}"
    assert service.who_lately(key) is None
    clock.now += timedelta(seconds=10)
    assert service.who(key) == service.who_lately(key) is not None
    assert service.who_lately(wrong) is None
    clock.now = until
    assert service.who_lately(key) is None
    other = service.add_key("office", "manager")
    assert service.who(other) == service.who_lately(other) is not None
    clock.now += timedelta(seconds=1)
    assert service.who_lately(other) is None
    assert service.who(other) is not None
    assert service.revoke_key(other[:17])
    assert service.who_lately(other) is None


def test_the_database_holds_no_key(service: Service) -> None:
    """Of a key only its first digits and a SHA-256 are kept."""
    key = service.add_key("office", "manager")
    (row,) = service.list_keys()
    assert row.prefix == key[:17]
    assert len(row.secret_hash) == 32
    assert key[17:] not in repr(row)
