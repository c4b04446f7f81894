"""Who tells and asks in the tests of the service, and what nearly every one of them does."""

from collections.abc import Iterable

from rindline_schema.answers import Outcome, Refused, Told
from rindline_schema.events import Event
from rindline_server.service import Caller, Service

__all__ = [
    "ANSWER_S",
    "AUDITOR",
    "MANAGER",
    "SHOP_A",
    "SHOP_B",
    "STATION",
    "recorded",
    "refused",
    "tell",
]

ANSWER_S = 60.0
"""How long an answer may take before the test is given up."""

MANAGER = Caller(key="rindline_00000001", name="office", role="manager")
AUDITOR = Caller(key="rindline_00000002", name="auditor", role="auditor")
STATION = Caller(key="rindline_00000003", name="scale", role="station", site="QM")
SHOP_A = Caller(key="rindline_00000004", name="Shop A", role="customer", partner="SHOP-A")
SHOP_B = Caller(key="rindline_00000005", name="Shop B", role="customer", partner="SHOP-B")


def tell(
    service: Service, told: Iterable[Event | Refused], caller: Caller = MANAGER
) -> list[Outcome]:
    """Tell events and wait for their outcomes."""
    return service.tell(caller, list(told)).result(ANSWER_S)


def recorded(service: Service, events: Iterable[Event], caller: Caller = MANAGER) -> list[Told]:
    """Tell events all of which must be recorded."""
    outcomes = tell(service, events, caller)
    answers = [outcome for outcome in outcomes if isinstance(outcome, Told)]
    assert len(answers) == len(outcomes), [o for o in outcomes if isinstance(o, Refused)]
    return answers


def refused(service: Service, event: Event, caller: Caller = MANAGER) -> Refused:
    """Tell an event that must be refused."""
    (outcome,) = tell(service, [event], caller)
    assert isinstance(outcome, Refused), outcome
    return outcome
