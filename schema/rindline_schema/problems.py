"""The one catalogue of problems (RFC 9457): what can go wrong and what to do about it."""

from typing import Any, NamedTuple

from msgspec import Struct

__all__ = ["PROBLEMS", "Fault", "Problem", "ProblemKind", "make_problem", "problem_type"]


class ProblemKind(NamedTuple):
    """One entry: HTTP status, title, what to do, whether the same request may succeed later."""

    status: int
    title: str
    what_to_do: str
    retryable: bool = False


class Fault(Struct, kw_only=True, frozen=True, omit_defaults=True):
    """One fault in a request: where (JSON Pointer into the body, or the parameter) and what."""

    pointer: str
    detail: str


class Problem(Struct, kw_only=True, frozen=True, omit_defaults=True):
    """A problem details object (RFC 9457), with a few members that help to mend it.

    ``left_g`` is what a lot has left when more was asked of it; ``lot`` the lot in question;
    ``event_ids`` the recorded events that stand in the way.
    """

    type: str
    title: str
    status: int
    code: str
    detail: str
    retryable: bool
    what_to_do: str
    request_id: str | None = None
    faults: list[Fault] = []
    lot: str | None = None
    left_g: int | None = None
    event_ids: list[str] = []


def problem_type(code: str) -> str:
    """Give the URI reference that names a kind of problem; the server shows a page there."""
    return f"/problems/{code}"


_MEND = "Mend the event and tell it under a new id."
_LATER = "Send the same request again later; its id keeps it from being recorded twice."

PROBLEMS: dict[str, ProblemKind] = {
    # The request itself
    "malformed": ProblemKind(400, "The request is not well formed", "Mend what `faults` lists."),
    "unknown_parameter": ProblemKind(
        400, "A query parameter is not known or not valid", "Mend what `faults` lists."
    ),
    "bad_cursor": ProblemKind(
        400, "The cursor is not one of ours", "Start again without a cursor."
    ),
    "unauthorized": ProblemKind(
        401,
        "A valid key is needed",
        "Send `Authorization: Bearer <key>` with a key that is neither expired nor revoked.",
    ),
    "forbidden": ProblemKind(
        403, "This key may not do that", "Use a key whose role may, or ask a manager."
    ),
    "not_found": ProblemKind(404, "There is no such thing here", "Check the code or address."),
    "method_not_allowed": ProblemKind(
        405, "This address does not take that method", "See /docs for its methods."
    ),
    "request_timeout": ProblemKind(
        408, "The request took too long to arrive", _LATER, retryable=True
    ),
    "too_large": ProblemKind(413, "The request is too large", "Send fewer events at a time."),
    "wrong_content_type": ProblemKind(
        415, "The body must be JSON", "Send `Content-Type: application/json`."
    ),
    "headers_too_large": ProblemKind(431, "The headers are too large", "Send fewer."),
    "busy": ProblemKind(503, "The server has too much to do right now", _LATER, retryable=True),
    "stopping": ProblemKind(503, "The server is stopping", _LATER, retryable=True),
    "internal": ProblemKind(
        500,
        "Something went wrong in the server",
        "Send it again; report the request id.",
        retryable=True,
    ),
    # Events: the telling
    "not_valid": ProblemKind(
        422, "The event says something that cannot be", "Mend what `faults` lists."
    ),
    "id_reused": ProblemKind(
        409, "This id was already used for other content", "Use a new id for each event."
    ),
    "ahead_of_clock": ProblemKind(
        422, "The event lies in the future", "Set the station's clock, tell it again."
    ),
    "not_your_site": ProblemKind(
        403, "This key tells events of another site", "Use a key of the event's site."
    ),
    "not_declared": ProblemKind(
        409, "The event names something no register knows", "Declare it first."
    ),
    "nature_changed": ProblemKind(
        409,
        "The entry is in use and would become something else",
        "Declare a new code instead.",
    ),
    # Events: contradictions with the record
    "lot_exists": ProblemKind(
        409, "This lot was already made", "Check the code; correct the event that made it."
    ),
    "not_enough": ProblemKind(
        409, "More is taken of the lot than it has", "See `left_g`. " + _MEND
    ),
    "before_it_existed": ProblemKind(
        409, "The lot did not yet exist at that time", "Check `at`. " + _MEND
    ),
    "lot_held": ProblemKind(
        409,
        "The lot is on hold",
        "Have it released, or state in `override` why it is done all the same.",
    ),
    "not_held": ProblemKind(409, "The lot is not on hold", "Check the code."),
    "not_here": ProblemKind(
        409, "The lot is not at this site", "Check the code and the site. " + _MEND
    ),
    "wrong_kind": ProblemKind(409, "That cannot be done with this kind of lot or entry", _MEND),
    "places_overlap": ProblemKind(
        409, "That part of the wheel was already cut out", "Check the angles. " + _MEND
    ),
    "already_corrected": ProblemKind(
        409,
        "This event was already corrected",
        "Correct the replacement, which `event_ids` names.",
    ),
    "correction_in_the_way": ProblemKind(
        409,
        "Later events rest on what would be taken away",
        "Correct the events in `event_ids` first, or carry a replacement they can rest on.",
    ),
    "no_such_discrepancy": ProblemKind(
        409, "There is no such open discrepancy", "Read /v1/discrepancies."
    ),
    "no_label": ProblemKind(
        422,
        "That label cannot be made",
        "See `detail`: declare what is missing, choose another size, or install rindline[labels].",
    ),
    "reading_differs": ProblemKind(
        409,
        "This sensor told other values for that time",
        "The first values stand. Check which are right, and the logger's clock.",
    ),
    "no_picture": ProblemKind(
        422,
        "That picture cannot be made",
        "See `detail`: ask for SVG or JSON, or install rindline[labels] on the server.",
    ),
    "not_told": ProblemKind(
        409,
        "Not recorded, because another event of the same all-or-nothing batch was refused",
        "Mend the refused event and send the batch again.",
    ),
}
"""Every problem the server can answer with, by its code."""


def make_problem(code: str, detail: str, **members: Any) -> Problem:
    """Build the problem with this code from the catalogue; members as in :class:`Problem`."""
    kind = PROBLEMS[code]
    return Problem(
        type=problem_type(code),
        title=kind.title,
        status=kind.status,
        code=code,
        detail=detail,
        retryable=kind.retryable,
        what_to_do=kind.what_to_do,
        **members,
    )
