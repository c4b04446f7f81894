"""The only place where the parts are put together."""

import os

from litestar.types import ASGIApp

from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.clock import now
from rindline_server.http import build_http_app
from rindline_server.service import Service
from rindline_server.settings import Settings
from rindline_server.store import Store

__all__ = ["build_app", "build_service", "serving_app"]


def build_service(settings: Settings) -> Service:
    """Build the service on the database the settings name; it is not started yet."""
    tolerance = ScaleTolerance(settings.scale_least_g, settings.scale_permille)
    return Service(Store(settings.database_url, readers=settings.threads), now, tolerance)


def build_app(settings: Settings, service: Service | None = None) -> ASGIApp:
    """Build the ASGI application; its lifespan starts and stops the service."""
    return build_http_app(service or build_service(settings), settings)


def serving_app() -> ASGIApp:
    """Build the application as a worker of the HTTP server does: from the environment."""
    return build_app(Settings.from_environment(os.environ))
