"""What is counted, for Prometheus: by route template, never by address or by caller.

With several workers every worker keeps its own counts in files (prometheus_client's way: the
directory is named by ``PROMETHEUS_MULTIPROC_DIR`` before this module is imported), and whichever
of them is asked adds them all up.
"""

import os

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

__all__ = ["METRICS_MEDIA_TYPE", "Metrics"]

METRICS_MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"

_METHODS = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE", "TRACE"})
_BUCKETS_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)


class Metrics:
    """The counts of one process."""

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "rindline_requests",
            "Requests answered.",
            ("method", "route", "status"),
            registry=self._registry,
        )
        self._seconds = Histogram(
            "rindline_request_seconds",
            "Time from the first byte asked to the last byte answered.",
            ("method", "route"),
            buckets=_BUCKETS_S,
            registry=self._registry,
        )
        self.in_flight = Gauge(
            "rindline_requests_in_flight",
            "Requests being answered.",
            registry=self._registry,
            multiprocess_mode="livesum",
        )
        self._events = Counter(
            "rindline_events",
            "Events told, by what became of them: recorded, refused, replayed.",
            ("outcome",),
            registry=self._registry,
        )
        self._readings = Counter(
            "rindline_readings",
            "Readings told, by what became of them: recorded, refused, repeated.",
            ("outcome",),
            registry=self._registry,
        )
        self._waiting = Gauge(
            "rindline_writer_waiting_requests",
            "Requests whose events wait for the writer.",
            registry=self._registry,
            multiprocess_mode="livesum",
        )
        self._seq = Gauge(
            "rindline_ledger_seq",
            "The ledger's newest seq.",
            registry=self._registry,
            multiprocess_mode="max",
        )
        self._bound: dict[tuple[str, str, int], tuple[Counter, Histogram]] = {}

    def answered(self, method: str, route: str, status: int, took_s: float) -> None:
        """Count one request."""
        # A caller may make methods up; each would be a series of its own for good.
        method = method if method in _METHODS else "other"
        key = (method, route, status)
        bound = self._bound.get(key)
        if bound is None:
            # Looking up labels costs more than counting; there are few of them.
            bound = self._bound[key] = (
                self._requests.labels(method, route, str(status)),
                self._seconds.labels(method, route),
            )
        bound[0].inc()
        bound[1].observe(took_s)

    def told(self, *, recorded: int, refused: int, replayed: int) -> None:
        """Count events by what became of them."""
        _count(self._events, recorded=recorded, refused=refused, replayed=replayed)

    def read(self, *, recorded: int, refused: int, repeated: int) -> None:
        """Count readings by what became of them."""
        _count(self._readings, recorded=recorded, refused=refused, repeated=repeated)

    def waiting(self, requests: int) -> None:
        """Say how many requests wait for this process's writer."""
        self._waiting.set(requests)

    def text(self, ledger_seq: int) -> bytes:
        """Give all counts in Prometheus's text format."""
        self._seq.set(ledger_seq)
        if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
            return generate_latest(self._registry)
        together = CollectorRegistry()
        MultiProcessCollector(together)  # type: ignore[no-untyped-call]
        return generate_latest(together)


def _count(counter: Counter, **outcomes: int) -> None:
    for outcome, count in outcomes.items():
        if count:
            counter.labels(outcome).inc(count)
