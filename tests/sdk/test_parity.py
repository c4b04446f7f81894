"""The two clients offer the same, and offer all that the API has."""

import inspect
from collections.abc import AsyncIterator, Coroutine, Iterator
from typing import Any, get_origin

import pytest

from rindline import AsyncClient, AsyncTransport, Client, Transport
from rindline.testing import FakeServer
from rindline.transport import AsyncHttpTransport, HttpTransport
from rindline_schema.operations import OPERATIONS


def _methods(kind: type) -> dict[str, Any]:
    return {
        name: method
        for name, method in inspect.getmembers(kind, inspect.isfunction)
        if not name.startswith("_")
    }


def _parameters(method: Any) -> list[tuple[str, Any, Any, str]]:
    # An object's annotation is compared by its text: both clients write the same.
    return [
        (parameter.name, parameter.kind, parameter.default, str(parameter.annotation))
        for parameter in inspect.signature(method).parameters.values()
    ]


def test_both_clients_have_the_same_methods() -> None:
    """No name is in one client only."""
    assert set(_methods(Client)) == set(_methods(AsyncClient))
    assert len(_methods(Client)) > 40


@pytest.mark.parametrize("name", sorted(_methods(Client)))
def test_a_method_is_called_alike_in_both(name: str) -> None:
    """Same parameters, kinds, defaults and types; an iterator becomes an async iterator."""
    here, there = getattr(Client, name), getattr(AsyncClient, name)
    assert _parameters(here) == _parameters(there)
    gives, gives_there = (inspect.signature(method).return_annotation for method in (here, there))
    if get_origin(gives) is Iterator:
        assert get_origin(gives_there) is AsyncIterator
        assert gives.__args__ == gives_there.__args__
    else:
        assert gives == gives_there
        assert inspect.iscoroutinefunction(there) or here is there


def test_making_a_client_takes_the_same_arguments() -> None:
    """The constructors differ in the kind of transport and in nothing else."""
    here = [row[:3] for row in _parameters(Client.__init__)]
    assert here == [row[:3] for row in _parameters(AsyncClient.__init__)]


def test_every_operation_has_a_method() -> None:
    """Nothing the API can do is missing from the SDK."""
    assert {operation.name for operation in OPERATIONS} - set(_methods(Client)) == set()


def test_one_fake_stands_in_for_both_transports() -> None:
    """The fake has each member that a transport of either sort has, called alike."""
    for wanted, real in ((Transport, HttpTransport), (AsyncTransport, AsyncHttpTransport)):
        for name, method in _methods(wanted).items():
            assert _parameters(getattr(FakeServer, name)) == _parameters(method)
            assert _parameters(getattr(real, name)) == _parameters(method)


def test_telling_gives_a_coroutine_in_the_async_client() -> None:
    """The shared event methods are not left plain: their result is awaited like all others."""
    client = AsyncClient(transport=FakeServer())
    told = client.clean(method="hot water", tool="VAT-1")
    assert isinstance(told, Coroutine)
    told.close()
