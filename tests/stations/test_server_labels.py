"""Labels from the server: what they say comes from the record, whichever way they are drawn."""

import pytest

from rindline_schema.params import LabelParams
from rindline_server.service import LabelFormat, ProblemError, Service
from tests.service.callers import MANAGER, recorded
from tests.service.conftest import service, store
from tests.service.dairy import Dairy

__all__ = ["service", "store"]


@pytest.fixture
def wedge(service: Service) -> tuple[str, str]:
    """A wedge and the wheel it was cut from."""
    dairy = Dairy()
    recorded(service, dairy.declared())
    events, wheels = dairy.wheels(1)
    piece = dairy.piece(180)
    recorded(service, [*events, dairy.cut(wheels[0], piece)])
    return piece.lot or "", wheels[0]


def test_a_label_names_the_wheel_and_the_mass(service: Service, wedge: tuple[str, str]) -> None:
    """Product, code, net mass and wheel are those of the record."""
    content = service.label(MANAGER, wedge[0])
    assert content.code == wedge[0]
    assert content.title == "Quillmere Blue wedge"
    assert "180" in content.quantity.text
    assert {field.key: field.text for field in content.fields}["wheels"] == wedge[1]


@pytest.mark.parametrize(
    ("fmt", "begins"), [("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")]
)
def test_a_label_is_drawn(
    service: Service, wedge: tuple[str, str], fmt: LabelFormat, begins: bytes
) -> None:
    """As a picture or a page, of the very content the JSON has."""
    drawn = service.draw_label(service.label(MANAGER, wedge[0]), fmt, LabelParams())
    assert drawn.startswith(begins)


def test_what_has_no_label_says_why(service: Service, wedge: tuple[str, str]) -> None:
    """A size that does not exist, a lot not made yet, a lot nobody mentioned."""
    content = service.label(MANAGER, wedge[0])
    with pytest.raises(ProblemError) as no_size:
        service.draw_label(content, "svg", LabelParams(size="11x11"))
    assert no_size.value.problem.code == "no_label"
    with pytest.raises(ProblemError) as unknown:
        service.label(MANAGER, Dairy(3).code("blend"))
    assert unknown.value.problem.code == "not_found"
