"""In which order a piece is stamped, and what is left when a step of it fails."""

from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

import pytest

from rindline import DiskFullError, InvalidInputError
from rindline.outbox import Queued
from rindline.stations import Stamper, eighths
from rindline_schema.labels import LabelContent
from rindline_schema.registers import Product, Site
from tests.sdk.samples import PORTION, WHEEL

_SITE = Site(code="QM", name="Quillmere Dairy", address="Quillmere", approval_number="XQ 0101")
_PIECE = Product(code="QB-EIGHTH", name="Quillmere Blue, eighth", kind="portion")


@dataclass
class _Table:
    """Codes, outbox and printer in one, that note the order in which they are asked."""

    fails: str = ""
    done: list[tuple[str, Any]] = field(default_factory=list)

    def _do(self, step: str, what: Any, error: Exception) -> None:
        if self.fails == step:
            raise error
        self.done.append((step, what))

    def stamp(self, **_: Any) -> str:
        self._do("stamp", PORTION, DiskFullError("no room"))
        return PORTION

    def spoil(self, code: str) -> None:
        self._do("spoil", code, DiskFullError("no room"))

    def cut(self, **said: Any) -> Queued:
        self._do("cut", said, DiskFullError("no room"))
        return Queued(id=UUID(int=1), number=7)

    def put_label(self, label: LabelContent) -> None:
        self._do("label", label.code, OSError("out of paper"))

    def stamper(self, product: Product = _PIECE) -> Stamper:
        return Stamper(
            self, self, self.put_label, lot=WHEEL, product=product, site=_SITE, tool="QC-WIRE"
        )


def test_the_event_is_on_disk_before_the_label_is_printed() -> None:
    """Code, event, label: in this order, with the same code, place and masses in them."""
    table = _Table()
    stamped = table.stamper().stamp(1003, eighths()[2], weighed_g=8012, finished=True)
    assert [step for step, _ in table.done] == ["stamp", "cut", "label"]
    said = table.done[1][1]
    [piece] = said["pieces"]
    assert (piece.lot, piece.mass_g, piece.place) == (PORTION, 1003, eighths()[2])
    assert (said["lot"], said["weighed_g"], said["finished"]) == (WHEEL, 8012, True)
    assert (said["tool"], said["site"]) == ("QC-WIRE", "QM")
    assert table.done[2][1] == stamped.lot == stamped.label.code == PORTION
    assert (stamped.event, stamped.number) == (UUID(int=1), 7)
    assert "1.003" in stamped.label.quantity.text


@pytest.mark.parametrize("step", ["stamp", "cut"])
def test_a_full_disk_prints_nothing(step: str) -> None:
    """Where the code or the event cannot be put on disk the error comes out, and no label."""
    table = _Table(fails=step)
    with pytest.raises(DiskFullError):
        table.stamper().stamp(1003)
    assert "label" not in [done for done, _ in table.done]


def test_a_label_without_paper_is_kept_for_later() -> None:
    """The printer fails: the piece is told all the same, and its label is at hand."""
    table = _Table(fails="label")
    stamper = table.stamper()
    with pytest.raises(OSError, match="paper"):
        stamper.stamp(1003)
    assert [step for step, _ in table.done] == ["stamp", "cut"]
    assert stamper.last is not None
    assert stamper.last.label.code == PORTION


def test_what_no_label_can_say_is_not_told() -> None:
    """A product that is no piece has no piece's label: the code is spoilt, nothing is told."""
    table = _Table()
    wheel = Product(code="QB-WHEEL", name="Quillmere Blue", kind="wheel")
    with pytest.raises(InvalidInputError, match="Nothing was told"):
        table.stamper(wheel).stamp(1003)
    assert table.done == [("stamp", PORTION), ("spoil", PORTION)]
