"""The real server for the outbox's tests: a process of its own, on a database of the test's."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from rindline import Client
from rindline_schema.answers import CodeBlockState
from rindline_schema.events import Declare, Event
from rindline_schema.params import PageParams
from rindline_schema.registers import Partner, Product, Site
from rindline_server.app import open_service
from rindline_server.service import Caller
from rindline_server.settings import Settings
from tests.http.serving import serving

__all__ = ["RealServer", "real_serving"]

_OFFICE = Caller(key="rindline_00000001", name="office", role="manager")
_ENTRIES = (
    Site(code="QM", name="Quillmere"),
    Partner(code="SALTERN", name="Hallowbrine Salt Pans", roles=["supplier"]),
    Product(code="SALT", kind="ingredient", name="Cheese salt"),
)


class RealServer:
    """Where it is, a station's key and the office's, what it recorded in order, its code blocks."""

    def __init__(self, url: str, key: str, office: str, database_url: str) -> None:
        parts = urlsplit(url)
        self.address = (parts.hostname or "", parts.port or 0)
        self.key = key
        self.office = office
        self._office = (url, office)
        self._database_url = database_url

    def told(self) -> list[Event]:
        """All events in the ledger's order, the registers' apart."""
        with Client(*self._office) as client:
            events = [recorded.event for recorded in client.feed()]
        return [event for event in events if not isinstance(event, Declare)]

    def missing(self) -> int:
        """How many numbers of its stations the server misses."""
        with open_service(Settings(database_url=self._database_url)) as service:
            stations = service.stations(_OFFICE, PageParams(limit=1000)).stations
        return sum(outbox.missing_count for one in stations for outbox in one.outboxes)

    def blocks(self) -> list[CodeBlockState]:
        """The first thousand blocks of codes."""
        with open_service(Settings(database_url=self._database_url)) as service:
            return service.code_blocks(_OFFICE, PageParams(limit=1000)).blocks


@contextmanager
def real_serving(database_url: str, folder: Path) -> Iterator[RealServer]:
    """Serve a record that knows one site and what the tests name."""
    with open_service(Settings(database_url=database_url)) as service:
        key = service.add_key("station", "station", site="QM")
        office = service.add_key("office", "manager")
    with serving(database_url, folder) as running:
        with Client(running.url, office) as client:
            for entry in _ENTRIES:
                client.declare(entry=entry, site="QM")
        yield RealServer(running.url, key, office, database_url)
