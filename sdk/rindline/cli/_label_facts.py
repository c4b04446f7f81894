"""What a label is made from: what the command says, and for the rest what the server knows."""

from argparse import Namespace
from datetime import date, datetime

from rindline.client import Client
from rindline.errors import InvalidInputError
from rindline.labels import RegisterCache
from rindline_schema.codes import kind_of_code, lot_code_fault, parse_lot_code
from rindline_schema.labels import CaseContent, LabelFacts, LabelKind

__all__ = ["label_facts"]

_SSCC_DIGITS = 18


def label_facts(client: Client, arguments: Namespace, registers: RegisterCache) -> LabelFacts:
    """Give a label's facts; the server is asked only for what the command leaves out."""
    if arguments.code.isdigit() and len(arguments.code) == _SSCC_DIGITS:
        return _case_facts(arguments, registers)
    return _piece_facts(client, arguments, registers)


def _piece_facts(client: Client, arguments: Namespace, registers: RegisterCache) -> LabelFacts:
    fault = lot_code_fault(arguments.code)
    if fault is not None:
        raise InvalidInputError(f"{fault}.")
    kind: LabelKind = "wheel" if kind_of_code(arguments.code) == "wheel" else "portion"
    product, mass_g = arguments.product, arguments.mass_g
    wheels, makes, born_at = arguments.wheel, arguments.make, None
    if product is None or mass_g is None:
        lot, origin = client.lot(arguments.code), client.origin(arguments.code)
        product = product or lot.product
        born_at = lot.made_at
        if mass_g is None and lot.made_count == 1:
            mass_g = lot.made_g
        wheels = wheels or [wheel.lot for wheel in origin.wheels if wheel.lot != lot.lot]
        makes = makes or [make.lot for make in origin.makes]
    if product is None:
        raise InvalidInputError("The lot's product is not recorded yet: name it with --product.")
    day = _day(born_at) or parse_lot_code(arguments.code).day
    return LabelFacts(
        kind=kind,
        product=registers.product(product),
        site=registers.site(arguments.site or parse_lot_code(arguments.code).site),
        lot=arguments.code,
        mass_g=mass_g,
        packed_on=arguments.packed or (day if kind == "portion" else None),
        made_on=arguments.made or (day if kind == "wheel" else None),
        best_before=arguments.best_before,
        wheels=wheels,
        makes=makes,
    )


def _case_facts(arguments: Namespace, registers: RegisterCache) -> LabelFacts:
    if not arguments.holds or arguments.product is None:
        raise InvalidInputError("A case needs --product and --holds LOT:COUNT:GRAMS.")
    contents = [_content(text) for text in arguments.holds]
    return LabelFacts(
        kind="case",
        product=registers.product(arguments.product),
        site=registers.site(arguments.site or parse_lot_code(contents[0].lot).site),
        case=arguments.code,
        contents=contents,
        packed_on=arguments.packed or parse_lot_code(contents[0].lot).day,
        best_before=arguments.best_before,
    )


def _content(text: str) -> CaseContent:
    parts = text.upper().split(":")
    if len(parts) != 3 or not all(part.isascii() and part.isdigit() for part in parts[1:]):
        raise InvalidInputError(f"{text!r} is not LOT:COUNT:GRAMS.")
    fault = lot_code_fault(parts[0])
    if fault is not None:
        raise InvalidInputError(f"{fault}.")
    return CaseContent(lot=parts[0], count=int(parts[1]), mass_g=int(parts[2]))


def _day(at: datetime | None) -> date | None:
    # In the offset it was told with: the day on the wall where it happened.
    return at.date() if at is not None else None
