"""Blocks of lot codes at the server, on both databases."""

from datetime import date

import pytest

from rindline_schema.answers import BlockUse, CodeBlock, CodeBlockRequest
from rindline_schema.codes import lot_code
from rindline_schema.events import Hoop, NewWheel
from rindline_schema.params import PageParams
from rindline_schema.uuid7 import uuid7
from rindline_server.service import OutboxSays, ProblemError, Service
from tests.service.callers import ANSWER_S, MANAGER, STATION, recorded
from tests.service.conftest import service, store
from tests.service.dairy import NOW, Dairy

__all__ = ["service", "store"]

_DAY = date(2026, 3, 2)


def _request(number: int, count: int = 20, day: date = _DAY) -> CodeBlockRequest:
    return CodeBlockRequest(
        id=uuid7(1_700_000_000_000 + number, bytes(10)), day=day, kind="wheel", count=count
    )


def _codes(block: CodeBlock) -> list[str]:
    serials = range(block.first_serial, block.last_serial + 1)
    return [code for serial in serials if (code := lot_code(block.prefix, serial)) is not None]


@pytest.fixture
def dairy(service: Service) -> Dairy:
    dairy = Dairy()
    recorded(service, dairy.declared())
    return dairy


def test_no_two_blocks_share_a_code(service: Service, dairy: Dairy) -> None:
    """Each has as many usable codes as were asked for, and none of another's."""
    blocks = [service.reserve_codes(STATION, _request(n)) for n in range(5)]
    codes = [code for block in blocks for code in _codes(block)]
    assert [len(_codes(block)) for block in blocks] == [20] * 5
    assert len(set(codes)) == 100


def test_the_same_request_gets_the_same_block(service: Service, dairy: Dairy) -> None:
    """The answer was lost, perhaps; for another block it must be another id."""
    block = service.reserve_codes(STATION, _request(1))
    assert service.reserve_codes(STATION, _request(1)) == block
    with pytest.raises(ProblemError) as refused:
        service.reserve_codes(STATION, _request(1, count=21))
    assert refused.value.problem.code == "id_reused"


def test_the_server_gives_no_reserved_code(service: Service, dairy: Dairy) -> None:
    """A lot told without a code gets one after every block, of any process."""
    block = service.reserve_codes(STATION, _request(1, day=NOW.date()))
    hoop = dairy.event(
        Hoop,
        make=dairy.code("make"),
        product="BLUE",
        room="CAVE",
        wheels=[NewWheel(mass_g=11_000)],
        at=NOW,
    )
    (told,) = recorded(service, [hoop], STATION)
    assert told.lots[0].lot not in _codes(block)
    assert told.lots[0].lot > _codes(block)[-1]


def test_every_code_of_a_block_is_accounted_for(service: Service, dairy: Dairy) -> None:
    """Heard, unheard, spoiled and unused add up; a stamped code never told is named."""
    block = service.reserve_codes(STATION, _request(1))
    codes = _codes(block)
    hoop = dairy.event(
        Hoop,
        make=dairy.code("make"),
        product="BLUE",
        room="CAVE",
        wheels=[NewWheel(mass_g=11_000, lot=code) for code in codes[:3]],
    )
    serials = [s for s in range(block.first_serial, block.last_serial + 1) if _is(block, s)]
    says = OutboxSays(
        outbox=uuid7(1, bytes(10)),
        station_clock=NOW,
        next_number=2,
        queued=0,
        set_aside=0,
        oldest_age_ms=None,
        blocks=[BlockUse(block=block.id, stamped_to=serials[4], spoiled=[serials[3]])],
        numbers=[1],
    )
    service.tell_outbox(STATION, [hoop], [0], says).result(ANSWER_S)
    (state,) = service.code_blocks(MANAGER, PageParams()).blocks
    assert (state.stamped, state.heard, state.spoiled, state.unheard) == (5, 3, 1, 1)
    assert state.unheard_lots == [codes[4]]
    assert state.unused == 15


def _is(block: CodeBlock, serial: int) -> bool:
    return lot_code(block.prefix, serial) is not None


def test_a_station_reserves_for_its_own_site(service: Service, dairy: Dairy) -> None:
    """Another site's codes are refused, and so are those of a site nobody declared."""
    other = CodeBlockRequest(id=uuid7(5, bytes(10)), day=_DAY, kind="wheel", count=1, site="QX")
    with pytest.raises(ProblemError) as refused:
        service.reserve_codes(STATION, other)
    assert refused.value.problem.code == "not_your_site"
    with pytest.raises(ProblemError) as undeclared:
        service.reserve_codes(MANAGER, other)
    assert undeclared.value.problem.code == "not_declared"
