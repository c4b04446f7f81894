"""What the SDK raises. Every message says what happened and what to do about it."""

from rindline_schema.problems import Problem

__all__ = [
    "CutShortError",
    "DeadlineError",
    "DiskFullError",
    "ForbiddenError",
    "InvalidInputError",
    "InvalidRequestError",
    "NoCodesError",
    "NotFoundError",
    "OutboxError",
    "ProblemError",
    "RefusedError",
    "RindlineError",
    "TransportError",
    "UnauthorizedError",
    "UnavailableError",
    "UnexpectedAnswerError",
    "problem_error",
]


class RindlineError(Exception):
    """Anything the SDK raises by itself."""


class InvalidInputError(RindlineError, ValueError):
    """What you passed cannot be right, so nothing was sent: mend it as the message says."""


class TransportError(RindlineError):
    """No whole answer came: not reachable, connection lost, too slow.

    Whether the server got the request is not known; sending the same event again is safe.
    ``retryable`` is False where trying again cannot help (a wrong address or certificate).
    """

    def __init__(self, message: str, *, retryable: bool = True) -> None:
        super().__init__(message)
        self.retryable = retryable


class CutShortError(TransportError):
    """A streamed answer ended before its end line: what was read is not the whole of it."""


class DeadlineError(RindlineError):
    """The total time for a call, retries included, is used up.

    The cause (``__cause__``) is what went wrong last, if anything did.
    """


class UnexpectedAnswerError(RindlineError):
    """The answer is not one of Rindline's: is the address right, is something in between?"""


class OutboxError(RindlineError):
    """The outbox's file could not be read or written: nothing was told, so say it again."""


class DiskFullError(OutboxError):
    """There is no room for the outbox's file to grow: nothing was told. Make room, tell again."""


class NoCodesError(RindlineError):
    """No reserved lot code is left to stamp: reach the server once, so that more are reserved."""


class ProblemError(RindlineError):
    """The server answered with a problem.

    ``code`` is its code in the catalogue (:mod:`rindline_schema.problems`), ``status`` the HTTP
    status, ``what_to_do`` the server's advice, ``request_id`` what its log calls the request,
    ``problem`` the whole of it: ``left_g``, ``lot``, ``event_ids``, ``faults``.
    """

    def __init__(self, problem: Problem) -> None:
        super().__init__(_message(problem))
        self.problem = problem
        self.code = problem.code
        self.status = problem.status
        self.request_id = problem.request_id
        self.what_to_do = problem.what_to_do


class RefusedError(ProblemError):
    """The event (or drill) was not recorded: it cannot be, or contradicts the record."""


class InvalidRequestError(ProblemError):
    """The request itself was not right."""


class UnauthorizedError(ProblemError):
    """The key is missing, unknown, expired or revoked."""


class ForbiddenError(ProblemError):
    """The key may not do that."""


class NotFoundError(ProblemError):
    """There is no such thing, or this key may not see it."""


class UnavailableError(ProblemError):
    """The server could not serve, also after the retries."""


_BY_STATUS: dict[int, type[ProblemError]] = {
    401: UnauthorizedError,
    403: ForbiddenError,
    404: NotFoundError,
    408: UnavailableError,
    409: RefusedError,
    422: RefusedError,
    425: UnavailableError,
    429: UnavailableError,
}


def problem_error(problem: Problem) -> ProblemError:
    """Give the error that stands for a problem, also for one inside a batch's outcomes."""
    default = UnavailableError if problem.status >= 500 else InvalidRequestError
    return _BY_STATUS.get(problem.status, default)(problem)


def _message(problem: Problem) -> str:
    parts = [f"{problem.title}: {problem.detail}".rstrip(".") + "."]
    parts += [f"{fault.pointer or 'body'}: {fault.detail}." for fault in problem.faults]
    if problem.left_g is not None:
        parts.append(f"{problem.left_g} g are left.")
    if problem.event_ids:
        parts.append(f"Events: {', '.join(problem.event_ids)}.")
    parts.append(problem.what_to_do)
    request = f", request {problem.request_id}" if problem.request_id else ""
    return f"{' '.join(parts)} ({problem.code}, HTTP {problem.status}{request})"
