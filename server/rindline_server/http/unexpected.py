"""What nobody expected: told as a problem, with its place in the code in the log."""

import logging

from rindline_schema.problems import make_problem
from rindline_server.http.exchange import Exchange
from rindline_server.http.replies import Reply, problem_reply

__all__ = ["LOG", "log_unexpected", "unexpected_reply"]

LOG = logging.getLogger("rindline_server.http")


def unexpected_reply(exchange: Exchange, error: BaseException) -> Reply:
    """Log an error under the request's id, and make the problem ``internal`` of it."""
    log_unexpected(exchange, error)
    problem = make_problem("internal", "The server met an error it did not expect.")
    return problem_reply(exchange, problem)


def log_unexpected(exchange: Exchange, error: BaseException) -> None:
    """Log an error under the request's id."""
    LOG.error(
        "unexpected error",
        exc_info=error,
        extra={"fields": {"request_id": exchange.request_id, "route": exchange.route}},
    )
