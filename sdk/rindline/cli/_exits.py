"""The exit codes, said once: for the commands, for ``--help``, for the README."""

from rindline.errors import (
    DeadlineError,
    ForbiddenError,
    InvalidInputError,
    NotFoundError,
    ProblemError,
    RindlineError,
    UnauthorizedError,
    UnavailableError,
)

__all__ = [
    "DONE",
    "EXIT_CODES",
    "INTERRUPTED",
    "NOT_ANSWERED",
    "NOT_FOUND",
    "NOT_PERMITTED",
    "REFUSED",
    "USAGE",
    "exit_code",
]

DONE, REFUSED, USAGE, NOT_FOUND, NOT_PERMITTED, NOT_ANSWERED, INTERRUPTED = 0, 1, 2, 3, 4, 5, 130

EXIT_CODES = {
    DONE: "done",
    REFUSED: "the server refused it; with tell and readings: at least one entry was refused",
    USAGE: "wrong usage: an option, a mistyped lot code, a file that holds no events",
    NOT_FOUND: "there is no such lot, drill or entry, or this key may not see it",
    NOT_PERMITTED: "a key is missing or not valid, or may not do that",
    NOT_ANSWERED: "the server could not be reached, did not answer in time, or failed",
    INTERRUPTED: "interrupted from the keyboard",
}


def exit_code(error: RindlineError) -> int:
    """Give the exit code that stands for an error."""
    match error:
        case InvalidInputError():
            return USAGE
        case NotFoundError():
            return NOT_FOUND
        case UnauthorizedError() | ForbiddenError():
            return NOT_PERMITTED
        case UnavailableError() | DeadlineError():
            return NOT_ANSWERED
        case ProblemError():
            return REFUSED
    return NOT_ANSWERED
