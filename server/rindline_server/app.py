"""The only place where the parts are put together."""

import os
from collections.abc import Iterator
from contextlib import contextmanager

from litestar.types import ASGIApp

from rindline_server.calc.air import AirRule
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.clock import now
from rindline_server.http import build_http_app
from rindline_server.service import Service
from rindline_server.settings import Settings
from rindline_server.store import Store

__all__ = ["build_app", "build_service", "open_service", "serving_app"]

_MINUTE_US = 60_000_000


def build_service(settings: Settings) -> Service:
    """Build the service on the database the settings name; it is not started yet."""
    return _service_on(_store(settings), settings)


@contextmanager
def open_service(settings: Settings) -> Iterator[Service]:
    """Give the service for the length of a block, not started; its connections end with it."""
    store = _store(settings)
    try:
        yield _service_on(store, settings)
    finally:
        store.close()


def build_app(settings: Settings, service: Service | None = None) -> ASGIApp:
    """Build the ASGI application; its lifespan starts and stops the service.

    A service that is given keeps its database open; one built here gives it back at the end.
    """
    if service is not None:
        return build_http_app(service, settings)
    store = _store(settings)
    return build_http_app(_service_on(store, settings), settings, at_end=store.close)


def serving_app() -> ASGIApp:
    """Build the application as a worker of the HTTP server does: from the environment."""
    return build_app(Settings.from_environment(os.environ))


def _store(settings: Settings) -> Store:
    # A question holds one connection in one thread, and a streamed trace keeps its own.
    return Store(settings.database_url, readers=2 * settings.threads)


def _service_on(store: Store, settings: Settings) -> Service:
    tolerance = ScaleTolerance(settings.scale_least_g, settings.scale_permille)
    air = AirRule(
        longest_gap_us=settings.longest_gap_minutes * _MINUTE_US,
        base_c=settings.degree_hours_base_c,
        cold_c=settings.raw_milk_least_c,
    )
    return Service(store, now, tolerance, air, settings.raw_milk_days)
