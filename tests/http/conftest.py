"""What the tests of HTTP ask for: the application around a service that answers as it is told."""

from collections.abc import Iterator
from dataclasses import dataclass

import httpx
import pytest

from rindline_server.http import build_http_app
from rindline_server.settings import Settings
from tests.contract.in_process import InProcess
from tests.http.stand_in import StandIn, as_service


@dataclass
class Told:
    """The application under test, and the service behind it."""

    service: StandIn
    application: InProcess

    def client(self, key: str | None = None) -> httpx.Client:
        """Give a client with the key of a role; every reply is checked against the document."""
        return self.application.client(key)


@pytest.fixture
def settings() -> Settings:
    return Settings(threads=2, waiting=2, body_s=0.5, stall_s=0.5)


@pytest.fixture
def app(settings: Settings) -> Iterator[Told]:
    service = StandIn()
    with InProcess(build_http_app(as_service(service), settings)) as application:
        yield Told(service, application)
