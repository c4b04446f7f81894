"""The story as it is told: the same every time, as large as promised, every event well formed."""

import hashlib
import os
import subprocess
import sys
from collections import Counter
from datetime import UTC, datetime

import msgspec
import pytest

from rindline_schema import events as ev
from rindline_schema.codes import is_lot_code
from rindline_schema.faults import faults_of
from rindline_schema.gs1 import gln_fault, gtin_fault, sscc_fault
from rindline_schema.registers import Partner, Product, Site
from rindline_schema.uuid7 import uuid7_unix_ms
from rindline_server.demo import WHOLE, Story, write_story
from rindline_server.demo.registers import ENTRIES
from rindline_server.demo.story import OFFICE, STATIONS, told_by
from tests.demo.conftest import Folded

# Every name, so that none gets in unseen. All are invented.
_SITE_NAMES = ["Quillmere Dairy", "Quillmere Ripening Store", "Quillmere Cutting Room"]
_PARTNER_NAMES = [
    "Vennaby Farm",
    "Tolmarrick Farm",
    "Little Ashquill Farm",
    "Velmorra Cultures",
    "Tessermark Rennet Works",
    "Hallowbrine Salt Pans",
    "Pennerwick Cheese Counter",
    "The Oaten Shelf",
    "Copperhatch Larder",
    "Saltmarrow Delicatessen",
    "Thistlefold Farm Shop",
    "Harrowfen Grocers",
    "Blue Lantern Provisions",
    "Millhatch Market Stall",
    "Dunnockbrig Stores",
    "Quarrelwick Kitchen",
    "Evenmarsh Village Store",
    "Larkhollow Inn",
    "Wickenbarrow Cheesemonger",
    "Otterfold Fine Foods",
    "Fallowgate Wholesale",
    "Ilvermarsh Food Laboratory",
    "Wendlemoor Chilled Haulage",
]
_PRODUCT_NAMES = [
    "Raw cows' milk",
    "Mesophilic starter, freeze-dried",
    "Blue mould spores",
    "Rennet",
    "Cheese salt",
    "Quillmere Blue, a vat",
    "Quillmere Blue, whole",
    "Quillmere Blue, half",
    "Quillmere Blue, eighth",
    "Quillmere Blue, wedge",
    "Trim of Quillmere Blue",
    "Quillmere Blue, crumbled, 150 g",
]

_DIGEST = """
import hashlib, msgspec
from rindline_server.demo import WHOLE, write_story
print(hashlib.sha256(msgspec.json.encode(write_story(WHOLE).events)).hexdigest())
"""


def _digest(story: Story) -> str:
    return hashlib.sha256(msgspec.json.encode(story.events)).hexdigest()


@pytest.mark.parametrize("hash_seed", ["0", "12345"])
def test_the_story_is_the_same_every_time(hash_seed: str, whole: Folded) -> None:
    """Another process, which orders its sets otherwise, writes the same bytes."""
    written = subprocess.run(
        [sys.executable, "-c", _DIGEST],
        env={**os.environ, "PYTHONHASHSEED": hash_seed},
        capture_output=True,
        check=True,
        text=True,
    )
    assert written.stdout.strip() == _digest(whole.story)


def test_the_scales_tell_different_stories(small: Folded, whole: Folded) -> None:
    """So that equal digests mean something: another seed and size give other bytes."""
    assert _digest(small.story) != _digest(whole.story)


def test_it_is_as_large_as_promised(whole: Folded) -> None:
    """Forty makes of two herds and more, 1,500 wheels, 10,000 portions, 15 shops, three sites."""
    events = whole.story.events
    entries = [event.entry for event in events if isinstance(event, ev.Declare)]
    makes = [event for event in events if isinstance(event, ev.Make)]
    wheels = sum(len(event.wheels) for event in events if isinstance(event, ev.Hoop))
    pieces = Counter(
        piece.product for event in events if isinstance(event, ev.Cut) for piece in event.pieces
    )
    received = [event for event in events if isinstance(event, ev.Receive)]
    assert len(makes) == 40
    assert wheels >= 1_500
    assert sum(pieces.values()) - pieces["QB-TRIM"] >= 10_000
    assert sum(isinstance(entry, Site) for entry in entries) == 3
    assert len({event.supplier for event in received if event.product == "COW-MILK"}) >= 2
    assert {"STARTER", "BLUE-SPORES", "RENNET", "SALT"} <= {event.product for event in received}
    assert len({event.to for event in events if isinstance(event, ev.Dispatch) and event.to}) == 15
    assert 4_000 <= len(events) <= 8_000


def test_it_tells_of_every_kind_of_event_but_findings_and_labels(told: Folded) -> None:
    """One discrepancy is left open, so nothing is settled, and no label is printed in the story."""
    kinds = {type(event) for event in told.story.events}
    assert kinds == {*ev.Fact.__args__, ev.Correct} - {ev.Settle, ev.Label}


def test_every_event_is_well_formed(told: Folded) -> None:
    """Each is read back from JSON as it was, and says nothing that cannot be."""
    events = list(told.story.events)
    assert msgspec.json.decode(msgspec.json.encode(events), type=list[ev.Event]) == events
    assert [fault for event in events for fault in faults_of(event)] == []


def test_ids_are_of_the_time_of_their_event(told: Folded) -> None:
    """Each id is a UUIDv7 of its own whose time is the event's."""
    ids = [event.id for event in told.story.events]
    assert len(set(ids)) == len(ids)
    for event in told.story.events:
        assert uuid7_unix_ms(event.id) == round(event.at.timestamp() * 1000)


def test_every_lot_has_a_code_and_none_is_given_twice(told: Folded) -> None:
    """The stations stamp every code, so the server has none to give."""
    made: list[str | None] = []
    for event in told.story.events:
        if isinstance(event, ev.Receive | ev.Make):
            made.append(event.lot)
        elif isinstance(event, ev.Hoop):
            made += [wheel.lot for wheel in event.wheels]
        elif isinstance(event, ev.Cut):
            made += [piece.lot for piece in event.pieces]
        elif isinstance(event, ev.Blend):
            made += [output.lot for output in event.outputs]
    assert [lot for lot in made if lot is None or not is_lot_code(lot)] == []
    assert len(set(made)) == len(made)


def test_numbers_begin_with_the_prefix_for_examples(told: Folded) -> None:
    """No GTIN, GLN or SSCC can be a real company's: GS1 keeps the prefix 952 for examples.

    Source: gs1.org, style guide, "GS1 prefix 952 for examples". The first digit of an SSCC and of
    a GTIN-14 stands before the prefix (GS1 General Specifications).
    """
    glns = [e.gln for e in ENTRIES if isinstance(e, Site | Partner) and e.gln]
    gtins = [e.gtin for e in ENTRIES if isinstance(e, Product) and e.gtin]
    cases = [event.case for event in told.story.events if isinstance(event, ev.Pack)]
    assert len(glns) == 18
    assert len(set(gtins)) == len(gtins) == 5
    assert len(set(cases)) == len(cases)
    assert [number for number in glns if gln_fault(number) or number[:3] != "952"] == []
    assert [n for n in gtins if gtin_fault(n) or n[len(n) - 13 :][:3] != "952"] == []
    assert [n for n in cases if sscc_fault(n) or n[1:4] != "952"] == []


def test_all_names_are_the_invented_ones() -> None:
    """A name that isn't in this list does not get into the registers."""
    assert [e.name for e in ENTRIES if isinstance(e, Site)] == _SITE_NAMES
    assert [e.name for e in ENTRIES if isinstance(e, Partner)] == _PARTNER_NAMES
    assert [e.name for e in ENTRIES if isinstance(e, Product)] == _PRODUCT_NAMES


def test_it_lies_in_the_past() -> None:
    """No clock is behind it that runs software of its time; twelve weeks, and a week before."""
    story = write_story(WHOLE)
    times = [event.at for event in story.events]
    assert max(times) < datetime(2025, 5, 1, tzinfo=UTC)
    assert (max(times) - min(times)).days // 7 == 12


def test_a_batch_is_one_stations(told: Folded) -> None:
    """Stations tell of their own site only; what they may not tell is told by the office."""
    seen: list[ev.Event] = []
    for station, events in told.story.batches():
        assert station in STATIONS
        assert {told_by(event) for event in events} == {station}
        if station == OFFICE:
            # A station's key may tell neither (the roles of the interface).
            assert {type(e) for e in events} <= {ev.Declare, ev.Hold, ev.Release, ev.Correct}
        else:
            assert {event.site for event in events} == {station}
        seen += events
    assert seen == list(told.story.events)
