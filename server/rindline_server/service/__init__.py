"""Use cases: one function each, one transaction each."""

from rindline.labels import LabelFormat
from rindline_server.service.callers import Caller
from rindline_server.service.outboxes import OutboxSays
from rindline_server.service.problems import ProblemError
from rindline_server.service.service import Service
from rindline_server.service.tracing import TRACE_COLUMNS, Trace

__all__ = [
    "TRACE_COLUMNS",
    "Caller",
    "LabelFormat",
    "OutboxSays",
    "ProblemError",
    "Service",
    "Trace",
]
