"""Keys, drills and single events: kept, found again, listed page by page."""

from typing import Any

import pytest
from msgspec.json import decode

from rindline_schema.events import Correct, Event
from rindline_server.store import DrillRow, KeyRow, RecordedRow, Store
from tests.store.conftest import Told


def _key(number: int, **fields: Any) -> KeyRow:
    row = KeyRow(
        prefix=f"rindline_{number:08d}",
        secret_hash=bytes([number]) * 32,
        name=f"scale {number}",
        role="station",
        site="QM",
        partner=None,
        created_us=1000 + number,
        expires_us=None,
        revoked_us=None,
    )
    return row._replace(**fields)


def test_keys_are_kept_found_and_revoked_once(store: Store) -> None:
    """A key comes back as it was kept; it can be revoked once, and is still listed afterwards."""
    keys = [_key(2), _key(1, expires_us=5), _key(3, role="customer", site=None, partner="INN")]
    for key in keys:
        store.add_key(key)
    assert [store.find_key(key.prefix) for key in keys] == keys
    assert store.find_key("rindline_00000009") is None
    assert store.list_keys() == [keys[1], keys[0], keys[2]]
    assert store.revoke_key(keys[0].prefix, 77) is True
    assert store.revoke_key(keys[0].prefix, 78) is False
    assert store.revoke_key("rindline_00000009", 78) is False
    assert store.find_key(keys[0].prefix) == keys[0]._replace(revoked_us=77)
    assert store.find_key(keys[1].prefix) == keys[1]


def test_a_key_is_not_given_twice(store: Store) -> None:
    """A prefix that is taken is an error, not a key that replaces another."""
    store.add_key(_key(1))
    with pytest.raises(Exception, match=r"(?i)unique"):
        store.add_key(_key(1, name="another"))
    assert store.list_keys() == [_key(1)]


def _drill(number: int, asked_us: int) -> DrillRow:
    return DrillRow(
        id=f"01900000-0000-7000-8000-{number:012d}",
        asked_us=asked_us,
        asked_by="the manager",
        as_of=number,
        request=b'{"lots":[]}',
        answer=f'{{"n":{number}}}'.encode(),
    )


def test_drills_are_kept_as_answered(store: Store) -> None:
    """A drill comes back byte for byte; under an id that is taken nothing is kept, and what is
    there stays."""
    assert store.keep_drill(_drill(1, 5)) is True
    assert store.keep_drill(_drill(1, 6)) is False
    with store.reading() as snap:
        assert snap.drill(_drill(1, 5).id) == _drill(1, 5)
        assert snap.drill(_drill(2, 5).id) is None


@pytest.mark.parametrize("limit", [1, 3, 100])
def test_drills_newest_first(store: Store, limit: int) -> None:
    """Page by page, newest first, also where several were asked at one and the same time."""
    drills = [_drill(n, asked_us=100 + n // 3) for n in range(8)]
    for drill in drills:
        store.keep_drill(drill)
    found: list[DrillRow] = []
    with store.reading() as snap:
        while page := snap.drills((found[-1].asked_us, found[-1].id) if found else None, limit):
            found += page
    assert found == sorted(drills, key=lambda drill: (drill.asked_us, drill.id), reverse=True)


def test_the_feed_has_every_event_once_and_in_order(told: Told) -> None:
    """From the first seq to the last without a gap, each as it was told, and with the id of the
    correction that voids it if there is one."""
    events = [*told.history.setup, *told.history.events]
    voided = {str(e.event): str(e.id) for e in events if isinstance(e, Correct)}
    found: list[RecordedRow] = []
    with told.store.reading() as snap:
        while page := snap.feed(len(found), 97):
            found += page
    assert [row.seq for row in found] == list(range(1, len(events) + 1))
    assert [row.id for row in found] == [str(event.id) for event in events]
    assert [decode(row.body, type=Event) for row in found] == events
    assert {row.id: row.voided_by for row in found if row.voided_by} == {
        target: by for target, by in voided.items() if target in {row.id for row in found}
    }


def test_events_are_found_by_their_ids(told: Told) -> None:
    """Also by the id of a replacement, which was told inside a correction; and ids told before
    are known, either way."""
    corrections = [
        e for e in told.history.events if isinstance(e, Correct) and e.replacement is not None
    ]
    assert corrections
    with told.store.reading() as snap:
        for correction in corrections:
            assert correction.replacement is not None
            by_id = snap.event(str(correction.id))
            inside = snap.event(str(correction.replacement.id))
            assert by_id is not None
            assert inside is not None
            assert (by_id.seq, by_id.body) == (inside.seq, inside.body)
            assert (by_id.is_replacement, inside.is_replacement) == (False, True)
            known = snap.known([str(correction.id), str(correction.replacement.id)])
            assert [known[k].is_replacement for k in sorted(known, key=str)] == [
                k != str(correction.id) for k in sorted(known, key=str)
            ]
            assert len(known) == 2
        assert snap.event("01900000-0000-7000-8000-000000000000") is None
        assert snap.known(["01900000-0000-7000-8000-000000000000"]) == {}
        ids = [str(event.id) for event in told.history.events]
        assert set(snap.known(ids * 3)) == set(ids)
