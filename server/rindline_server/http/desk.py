"""What every handler works with, and how a question is answered in one go in a thread."""

import threading
from collections.abc import Mapping
from typing import Any, NamedTuple

from rindline_schema.operations import Operation
from rindline_server.clock import now
from rindline_server.http.admission import admit
from rindline_server.http.exchange import Exchange
from rindline_server.http.kept_answers import Kept, KeptAnswers
from rindline_server.http.negotiation import entity_tag
from rindline_server.http.queries import read_params
from rindline_server.http.questions import OF_THE_LEDGER, QUESTIONS
from rindline_server.http.replies import Reply, encode, whole_reply
from rindline_server.http.threads import Threads
from rindline_server.observe.metrics import Metrics
from rindline_server.service import Service
from rindline_server.settings import Settings

__all__ = ["Asked", "Desk", "answer"]


class Desk(NamedTuple):
    """What every handler works with.

    ``streams`` are the places for streamed answers: each keeps a snapshot of the database open for
    as long as its reader takes.
    """

    service: Service
    settings: Settings
    threads: Threads
    metrics: Metrics
    kept: KeptAnswers
    streams: threading.Semaphore


class Asked(NamedTuple):
    """One request as the handler of its operation gets it; ``path`` is what its template names."""

    operation: Operation
    exchange: Exchange
    path: Mapping[str, str]
    query: bytes


def answer(desk: Desk, asked: Asked) -> Reply:
    """Answer a question, from the key to the bytes; blocking, so that it takes one thread once."""
    operation, exchange, path, query = asked
    service = desk.service
    caller = admit(service, operation, exchange)
    params: Any = read_params(operation.params, query)
    if operation.name not in OF_THE_LEDGER:
        body = encode(QUESTIONS[operation.name](service, caller, path, params))
        return whole_reply(exchange, body)
    view = (caller.role, caller.site, caller.partner)
    question = (operation.name, tuple(path.values()), params, view, now().date())
    kept = desk.kept.find(question)
    if kept is None or kept.as_of != service.head()[0]:
        answered: Any = QUESTIONS[operation.name](service, caller, path, params)
        body = encode(answered)
        kept = Kept(answered.as_of, body, entity_tag(body))
        desk.kept.keep(question, kept)
    return whole_reply(exchange, kept.body, tag=kept.tag)
