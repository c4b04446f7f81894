"""``rindline stamp``: a wheel cut to a pattern; each piece weighed, stamped, told and labelled."""

from argparse import Namespace
from collections.abc import Callable
from pathlib import Path

from rindline.cli._desk import Desk, EndedError, SkippedError, opened_desk
from rindline.cli._exits import DONE, REFUSED
from rindline.cli._figures import kilograms
from rindline.cli._scale_opening import open_scale, outbox_path
from rindline.cli._screen import Screen
from rindline.cli._weigh import LastMasses
from rindline.client import Client
from rindline.errors import InvalidInputError, NoCodesError
from rindline.labels import (
    LABEL_SIZES,
    LabelError,
    PrintError,
    RegisterCache,
    print_label,
    render_label,
)
from rindline.outbox import Outbox
from rindline.stations import (
    Stamper,
    eighths,
    expected_piece,
    halves,
    quarters_of_halves,
    wedges,
)
from rindline_schema.codes import lot_code_fault, parse_lot_code
from rindline_schema.events import Place
from rindline_schema.labels import LabelContent, LabelSize

__all__ = ["stamp_pieces"]

_CODES_S = 15.0
_PATTERNS: dict[str, Callable[[], list[Place]]] = {
    "halves": halves,
    "quarters": quarters_of_halves,
    "eighths": eighths,
}


def stamp_pieces(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Stamp the pieces of a wheel; each event is on disk before its label is printed."""
    fault = lot_code_fault(arguments.lot)
    if fault is not None:
        raise InvalidInputError(f"{fault}.")
    places = _places(arguments.pattern)
    if not 1 <= arguments.first <= len(places):
        raise InvalidInputError(f"--from is a piece from 1 to {len(places)}.")
    registers = RegisterCache(arguments.registers)
    if registers.fetched_at is None:
        registers.fetch(client)
    product = registers.product(arguments.product)
    site = registers.site(arguments.site or parse_lot_code(arguments.lot).site)
    put_label = _label_putter(arguments)
    if product.kind not in ("portion", "trim"):
        raise InvalidInputError(f"{product.code} is a {product.kind}: no piece of a wheel.")
    with Outbox(outbox_path(arguments), client) as outbox, open_scale(arguments) as scale:
        codes = outbox.codes(product.kind, site=site.code)
        # Better known before the wheel is cut than with a piece on the scale.
        if not codes.wait(timeout_s=_CODES_S):
            raise NoCodesError("No lot codes are reserved: reach the server once, to reserve some.")
        stamper = Stamper(
            outbox,
            codes,
            put_label,
            lot=arguments.lot,
            product=product,
            site=site,
            tool=arguments.tool,
            room=arguments.room,
        )
        with opened_desk(scale, outbox) as desk:
            work = _Cutting(desk, stamper, arguments, LastMasses(client))
            try:
                work.run(places)
            except EndedError as ended:
                screen.error(f"not recorded: {ended.unanswered or 'the input ended'}")
                return REFUSED
            finally:
                _sum_up(screen, work, len(places))
    return DONE


def _sum_up(screen: Screen, work: "_Cutting", pieces: int) -> None:
    screen.line(f"{work.stamped} stamped; what is not yet sent is on disk and will be.")
    if work.next_piece <= pieces:
        wheel = f" --wheel-g {work.wheel_g}" if work.wheel_g else ""
        screen.line(f"To go on: --from {work.next_piece}{wheel}")


class _Cutting:
    """One wheel at the table."""

    def __init__(
        self, desk: Desk, stamper: Stamper, arguments: Namespace, last: LastMasses
    ) -> None:
        self._desk = desk
        self._stamper = stamper
        self._arguments = arguments
        self._last = last
        self.next_piece: int = arguments.first
        self.wheel_g: int | None = arguments.wheel_g
        self.stamped = 0

    def run(self, places: list[Place]) -> None:
        """Weigh the wheel if its mass is not given, then stamp piece after piece."""
        lot = self._arguments.lot
        weighed_g = None
        if self.wheel_g is None:
            weighed_g = self._whole_wheel(lot)
            self.wheel_g = weighed_g
        skipped = self._arguments.first > 1
        for number, place in list(enumerate(places, 1))[self._arguments.first - 1 :]:
            title = f"{lot} piece {number} of {len(places)}, {_words(place)}: put it on"
            tolerance = self._arguments.tolerance
            try:
                mass_g = self._desk.weigh(
                    title, expected_piece(self.wheel_g, place, tolerance_pct=tolerance)
                )
            except SkippedError:
                self._desk.note(f"piece {number} was skipped")
                skipped = True
            else:
                # Only if every piece was seen here is it known that nothing is left.
                finished = number == len(places) and not skipped
                self._stamp(mass_g, place, weighed_g, finished=finished)
                weighed_g = None
            self.next_piece = number + 1

    def _whole_wheel(self, lot: str) -> int:
        while True:
            try:
                return self._desk.weigh(f"{lot} whole: put it on", self._last.expected(lot))
            except SkippedError:
                self._desk.note("The wheel's mass is needed: weigh it, or give --wheel-g")

    def _stamp(self, mass_g: int, place: Place, weighed_g: int | None, *, finished: bool) -> None:
        try:
            stamped = self._stamper.stamp(mass_g, place, weighed_g=weighed_g, finished=finished)
        except (LabelError, PrintError) as error:
            # Told it is; without its label it must not leave the table.
            lot = self._stamper.last.lot if self._stamper.last else ""
            self._desk.note(f"{lot} is recorded but NOT LABELLED (rindline label {lot}): {error}")
        else:
            self._desk.note(f"stamped: {kilograms(mass_g)} kg  {stamped.lot}")
        self.stamped += 1


def _places(pattern: str) -> list[Place]:
    if pattern in _PATTERNS:
        return _PATTERNS[pattern]()
    name, _, degrees = pattern.partition(":")
    if name == "wedges" and degrees.isascii() and degrees.isdigit():
        return wedges(int(degrees))
    raise InvalidInputError(f"{pattern!r} is no pattern: {', '.join(_PATTERNS)} or wedges:DEGREES.")


def _words(place: Place) -> str:
    layer = "" if place.layer == "whole" else f"{place.layer} half, "
    return f"{layer}{place.from_deg} to {place.to_deg} degrees"


def _label_putter(arguments: Namespace) -> Callable[[LabelContent], object]:
    size = LABEL_SIZES.get(arguments.size)
    if size is None:
        raise InvalidInputError(f"There is no size {arguments.size!r}: {', '.join(LABEL_SIZES)}.")
    if arguments.labels_in is not None:
        return lambda content: _write(arguments.labels_in, content, size)
    printer = None if arguments.printer == "-" else arguments.printer
    return lambda content: print_label(
        render_label(content, size, "pdf"), "pdf", size, printer=printer, title=content.code
    )


def _write(folder: Path, content: LabelContent, size: LabelSize) -> None:
    data = render_label(content, size, "pdf")
    try:
        (folder / f"{content.code}.pdf").write_bytes(data)
    except OSError as error:
        raise LabelError(f"The label cannot be written: {error}.") from error
