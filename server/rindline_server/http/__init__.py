"""The HTTP interface: routes from the catalogue of operations, keys, problems, OpenAPI."""

from rindline_server.http.routes import build_http_app

__all__ = ["build_http_app"]
