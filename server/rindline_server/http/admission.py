"""Who calls, and whether their role may call this operation at all."""

from rindline_schema.operations import Operation
from rindline_schema.problems import make_problem
from rindline_server.http.exchange import Exchange
from rindline_server.service import Caller, ProblemError, Service

__all__ = ["admit", "admit_at_once"]


def admit(service: Service, operation: Operation, exchange: Exchange) -> Caller:
    """Find the caller by the key in the request; blocking.

    Raises the problems ``unauthorized`` and ``forbidden``. Whether the caller may see the very
    thing asked for is decided by the service, which answers ``not_found`` if not.
    """
    caller = service.who(_key(exchange))
    if caller is None:
        detail = "The key is not known here, or it has expired or been revoked."
        raise ProblemError(make_problem("unauthorized", detail))
    return _allowed(caller, operation, exchange)


def admit_at_once(service: Service, operation: Operation, exchange: Exchange) -> Caller | None:
    """Find the caller without blocking, if it called a moment ago; None if :func:`admit` must."""
    caller = service.who_lately(_key(exchange))
    return _allowed(caller, operation, exchange) if caller is not None else None


def _allowed(caller: Caller, operation: Operation, exchange: Exchange) -> Caller:
    exchange.key = caller.key
    if caller.role not in operation.roles:
        detail = f"A key of role {caller.role!r} may not do this."
        raise ProblemError(make_problem("forbidden", detail))
    return caller


def _key(exchange: Exchange) -> str:
    given = exchange.headers.get(b"authorization", b"")
    scheme, _, key = given.partition(b" ")
    key = key.strip()
    if scheme.lower() != b"bearer" or not key or len(key) > 200 or not key.isascii():
        detail = "The request carries no key in `Authorization: Bearer <key>`."
        raise ProblemError(make_problem("unauthorized", detail))
    return key.decode()
