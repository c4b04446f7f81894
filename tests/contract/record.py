"""A real record behind the application in this process, and keys of every sort for it."""

from contextlib import ExitStack
from typing import Any, Self

import httpx
import msgspec

from rindline_schema.answers import Role
from rindline_schema.events import Event
from rindline_server.app import build_app, open_service
from rindline_server.settings import Settings
from tests.contract.in_process import InProcess
from tests.contract.story import DECLARATIONS, STORY

__all__ = ["Record"]


class Record:
    """The application on one database, for the length of a ``with`` block."""

    def __init__(self, database_url: str, **settings: Any) -> None:
        self.settings = Settings(database_url=database_url).but(settings)
        self._stack = ExitStack()
        self._keys: dict[tuple[str, str | None, str | None], str] = {}

    def __enter__(self) -> Self:
        """Start the application."""
        self.service = self._stack.enter_context(open_service(self.settings))
        app = build_app(self.settings, self.service)
        self.application = self._stack.enter_context(InProcess(app))
        return self

    def __exit__(self, *_error: object) -> None:
        """Stop it."""
        self._stack.close()

    def key(self, role: Role, site: str | None = None, partner: str | None = None) -> str:
        """Give a key, the same for the same role, site and partner."""
        wanted = (role, site, partner)
        if wanted not in self._keys:
            self._keys[wanted] = self.service.add_key(
                f"the {role}", role, site=site, partner=partner
            )
        return self._keys[wanted]

    def client(self, key: str | None = None) -> httpx.Client:
        """Give a client; every reply is checked against the OpenAPI document."""
        return self.application.client(key)

    def manager(self) -> httpx.Client:
        """Give a manager's client."""
        return self.client(self.key("manager"))

    def tell(self, events: list[Event]) -> httpx.Response:
        """Tell events as one batch, by a manager."""
        with self.manager() as client:
            return client.post(
                "/v1/events/batch",
                content=msgspec.json.encode(events),
                headers={"content-type": "application/json"},
            )

    def tell_story(self) -> None:
        """Tell the documentation's examples and what they rest on."""
        for events in (DECLARATIONS, STORY):
            answer = self.tell(events).json()
            refused = [one for one in answer["outcomes"] if one["outcome"] == "refused"]
            assert refused == [], refused
