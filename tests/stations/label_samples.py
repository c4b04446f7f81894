"""Facts for labels of the invented dairy, and readers that did not make the symbols."""

from datetime import date
from io import BytesIO
from typing import Any, NamedTuple

import numpy as np
import pypdfium2
import rxing
from PIL import Image

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.gs1 import gs1_check_digit, sscc
from rindline_schema.labels import CaseContent, LabelFacts
from rindline_schema.registers import LotKind, Product, Site

# GS1 keeps the prefix 952 for examples (gs1.org, style guide).
_PREFIX = "9529001"


def gtin(body: str) -> str:
    """Give a GTIN from all of its digits but the last."""
    return body + gs1_check_digit(body)


def code(site: str, day: date, kind: LotKind, serial: int) -> str:
    """Give a well-formed lot code; another serial if this one has none."""
    found = None
    while found is None:
        found = lot_code(lot_code_prefix(site, day, kind), serial)
        serial += 100
    return found


MADE, PACKED = date(2026, 2, 3), date(2026, 4, 14)
MAKE = code("QM", MADE, "make", 1)
WHEEL = code("QM", MADE, "wheel", 17)
PORTION = code("QC", PACKED, "portion", 417)
CASE = sscc(0, _PREFIX, 77)

SITE = Site(
    code="QC",
    name="Quillmere Cutting Room",
    address="Unit 4, Tarrowgate Yard\nQuillmere",
    approval_number="XQ 0103",
)
WEDGE = Product(
    code="QB-WEDGE",
    name="Quillmere Blue, wedge",
    kind="portion",
    gtin=gtin(f"9{_PREFIX}00004"),
    shelf_life_days=35,
    milk_treatment="pasteurised",
    milk_from="cows",
    allergens=["milk"],
    storage="Keep refrigerated at 2 to 8 °C.",
    label_name="Blue cheese made from pasteurised cows' milk",
)
WHOLE = Product(
    code="QB-WHEEL",
    name="Quillmere Blue, whole",
    kind="wheel",
    gtin=gtin(f"9{_PREFIX}00001"),
    shelf_life_days=70,
    milk_treatment="raw",
    allergens=["milk"],
)
PORTION_FACTS = LabelFacts(
    kind="portion",
    product=WEDGE,
    site=SITE,
    lot=PORTION,
    mass_g=187,
    packed_on=PACKED,
    wheels=[WHEEL],
    makes=[MAKE],
)
WHEEL_FACTS = LabelFacts(
    kind="wheel",
    product=WHOLE,
    site=SITE,
    lot=WHEEL,
    mass_g=8125,
    made_on=MADE,
    makes=[MAKE],
)
CASE_FACTS = LabelFacts(
    kind="case",
    product=WEDGE,
    site=SITE,
    case=CASE,
    contents=[CaseContent(lot=PORTION, count=12, mass_g=2244)],
    packed_on=PACKED,
)


class Seen(NamedTuple):
    """What a reader saw: the symbology identifier (AIM) and the text, separators included."""

    identifier: str
    text: str


def png_pixels(png: bytes) -> Any:
    """Give a PNG's pixels as grey values, rows first."""
    return np.array(Image.open(BytesIO(png)).convert("L"))


def pdf_pixels(pdf: bytes, dots_per_mm: int) -> Any:
    """Give the pixels of a PDF's only page."""
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 1
    page = document[0]
    pixels = np.array(page.render(scale=dots_per_mm * 25.4 / 72).to_pil().convert("L"))
    page.close()
    document.close()
    return pixels


def read(pixels: Any, form: str) -> Seen:
    """Read the symbol of one form that rxing finds first; ValueError if there is none."""
    picture = Image.fromarray(pixels)
    found = rxing.decode(picture, {"POSSIBLE_FORMATS": [form], "TRY_HARDER": True})
    identifier = str(found.result_metadata["SYMBOLOGY_IDENTIFIER"])
    return Seen(identifier.split('"')[1], found.text)


def read_bars(pixels: Any, step: int = 24) -> list[Seen]:
    """Read every linear symbol, from top to bottom, in strips of the label."""
    found: list[Seen] = []
    for top in range(0, pixels.shape[0] - step, step // 2):
        try:
            seen = read(np.ascontiguousarray(pixels[top : top + step]), "CODE_128")
        except ValueError:
            continue
        if seen not in found:
            found.append(seen)
    return found
