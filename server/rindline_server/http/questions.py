"""The questions: for each operation that only reads, the service's function that answers it.

What stands in a path and cannot be the name of anything answers ``not_found``, like the name of
a thing that isn't there.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any, get_args
from uuid import UUID

from rindline_schema.answers import TraceDirection, Whoami
from rindline_schema.codes import lot_code_fault
from rindline_schema.problems import make_problem
from rindline_schema.registers import RegisterName
from rindline_server.service import Caller, ProblemError, Service, Trace

__all__ = ["OF_THE_LEDGER", "QUESTIONS", "lot_in", "open_trace"]

_Path = Mapping[str, str]
_Question = Callable[[Service, Caller, _Path, Any], Any]

_ENTRY_CODE = re.compile(r"[A-Z0-9][A-Z0-9_-]{0,31}")


def open_trace(service: Service, caller: Caller, path: _Path, params: Any) -> Trace:
    """Open the trace a path names; the caller of this closes it."""
    return service.trace(caller, lot_in(path), _direction(path), params)


def _direction(path: _Path) -> TraceDirection:
    direction = path["direction"]
    if direction == "back":
        return "back"
    if direction == "forward":
        return "forward"
    raise _not_found(f"A trace goes back or forward, not {direction!r}.")


def lot_in(path: _Path) -> str:
    """Give the lot code in a path; raises ``not_found`` if it is none."""
    lot = path["lot"]
    fault = lot_code_fault(lot)
    if fault is not None:
        raise _not_found(f"{fault}.")
    return lot


def _id(path: _Path, name: str) -> UUID:
    try:
        return UUID(path[name])
    except ValueError:
        raise _not_found(f"{path[name]!r} is not a UUID.") from None


def _register(path: _Path) -> Any:
    register = path["register"]
    if register not in get_args(RegisterName):
        raise _not_found(f"There is no register {register!r}.")
    return register


def _code(path: _Path, name: str) -> str:
    code = path[name]
    if not _ENTRY_CODE.fullmatch(code):
        raise _not_found(f"{code!r} does not have the shape of an entry's code.")
    return code


def _not_found(detail: str) -> ProblemError:
    return ProblemError(make_problem("not_found", detail))


def _whoami(caller: Caller) -> Whoami:
    return Whoami(
        key=caller.key,
        name=caller.name,
        role=caller.role,
        site=caller.site,
        partner=caller.partner,
        expires_at=caller.expires_at,
    )


QUESTIONS: Mapping[str, _Question] = {
    "feed": lambda service, caller, _path, params: service.feed(caller, params),
    "event": lambda service, caller, path, _params: service.event(caller, _id(path, "event_id")),
    "lots": lambda service, caller, _path, params: service.lots(caller, params),
    "lot": lambda service, caller, path, params: service.lot(caller, lot_in(path), params),
    "origin": lambda service, caller, path, _params: service.origin(caller, lot_in(path)),
    "discrepancies": lambda service, caller, _path, params: service.discrepancies(caller, params),
    "register": lambda service, caller, path, params: service.register(
        caller, _register(path), params
    ),
    "register_entry": lambda service, caller, path, _params: service.register_entry(
        caller, _register(path), _code(path, "code")
    ),
    "stations": lambda service, caller, _path, params: service.stations(caller, params),
    "code_blocks": lambda service, caller, _path, params: service.code_blocks(caller, params),
    "sensors": lambda service, caller, _path, params: service.sensors(caller, params),
    "climate": lambda service, caller, path, params: service.climate(
        caller, _code(path, "room"), params
    ),
    "conditions": lambda service, caller, path, params: service.conditions(
        caller, lot_in(path), params
    ),
    "weight_loss": lambda service, caller, path, _params: service.weight_loss(caller, lot_in(path)),
    "comparison": lambda service, caller, _path, params: service.comparison(caller, params),
    "drills": lambda service, caller, _path, params: service.drills(caller, params),
    "drill": lambda service, caller, path, _params: service.drill(caller, _id(path, "drill_id")),
    "whoami": lambda _service, caller, _path, _params: _whoami(caller),
}
"""By operation name: asks the service; blocking."""

OF_THE_LEDGER = frozenset({"feed", "lots", "lot", "origin", "discrepancies", "register"})
"""Questions whose answer depends on nothing but the ledger, who asks, and the day.

Each such answer says in ``as_of`` for which ``seq`` of the ledger it holds.
"""
