"""What a question for conditions asks of the database: few statements, whatever the lot did."""

from collections.abc import Iterator, Sequence
from typing import Any

import pytest

from rindline_schema.events import Blend, Input, NewLot, Tend
from rindline_server.store import Store
from rindline_server.store.link import Link
from tests.service.vaults import Vaults, after, opened


@pytest.fixture
def vaults(store: Store) -> Iterator[Vaults]:
    with opened(store) as vaults:
        yield vaults


def _statements(monkeypatch: pytest.MonkeyPatch, vaults: Vaults, lot: str) -> list[str]:
    """The statements that one question asks, once nothing is due."""
    vaults.roll()
    asked: list[str] = []
    whole, first = Link.rows, Link.row

    def rows(link: Link, statement: str, parameters: Sequence[Any] = ()) -> Any:
        asked.append(statement)
        return whole(link, statement, parameters)

    def row(link: Link, statement: str, parameters: Sequence[Any] = ()) -> Any:
        asked.append(statement)
        return first(link, statement, parameters)

    with monkeypatch.context() as patched:
        patched.setattr(Link, "rows", rows)
        patched.setattr(Link, "row", row)
        assert vaults.ask(lot).paths
    return asked


def test_more_tendings_and_inputs_ask_no_more(
    vaults: Vaults, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wheel turned sixty times asks as many statements as one turned never, and a blend of
    twenty wheels' trim as many as one of two."""
    dairy = vaults.dairy
    wheels = vaults.hooped(20)
    vaults.now = after(1200)
    vaults.read("CAVE", 0, 1200, lambda _: 12.0)
    few = _statements(monkeypatch, vaults, wheels[0])
    vaults.tell(*(vaults.event(Tend, 20 + n, task="turn", lots=wheels) for n in range(60)))
    many = _statements(monkeypatch, vaults, wheels[0])
    assert sorted(few) == sorted(many)
    trims = [vaults.cut(wheel, 1000, dairy.piece(900, "trim"))[0] for wheel in wheels]
    blends = []
    for some in (trims[:2], trims[2:]):
        lot = dairy.code("blend")
        blend = vaults.event(
            Blend,
            1100,
            inputs=[Input(lot=trim, mass_g=500) for trim in some],
            outputs=[NewLot(product="CRUMBLE", lot=lot, mass_g=400 * len(some))],
            room="CAVE",
        )
        vaults.tell(blend)
        blends.append(lot)
    of_two, of_eighteen = (_statements(monkeypatch, vaults, lot) for lot in blends)
    assert len(vaults.ask(blends[1]).paths) == 18
    assert sorted(of_two) == sorted(of_eighteen)


def test_other_rooms_ask_no_more(vaults: Vaults, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten more rooms with sensors, and readings of them, change nothing for a wheel elsewhere."""
    (wheel,) = vaults.hooped()
    vaults.now = after(100)
    vaults.read("CAVE", 0, 100, lambda _: 12.0)
    before = _statements(monkeypatch, vaults, wheel)
    for number in range(10):
        vaults.rooms(**{f"R{number}": f"Room {number}"})
        vaults.read(f"R{number}", 0, 100, lambda _: 9.0)
    assert sorted(_statements(monkeypatch, vaults, wheel)) == sorted(before)
