"""Labels of lots: what they say from the record and the registers, and how they are drawn."""

from rindline.labels import LabelError, LabelFormat, render_label
from rindline_schema.codes import kind_of_code, parse_lot_code
from rindline_schema.labels import LabelContent, LabelFacts, make_label
from rindline_schema.params import LabelParams
from rindline_schema.registers import Product, Site
from rindline_server.ledger.lookups import entry_at
from rindline_server.ledger.times import from_us
from rindline_server.service.lots import kind_of
from rindline_server.service.problems import no_such_thing, problem_error
from rindline_server.store import ReadTransaction

__all__ = ["draw_label", "label_content"]


def label_content(snap: ReadTransaction, code: str) -> LabelContent:
    """Write a lot's label; raises ProblemError ``no_label`` saying all that is missing."""
    row, origin = snap.lot(code), snap.origin(code)
    if row is None or origin is None:
        raise no_such_thing(f"lot {code}")
    at_us = row.born_us or 0
    site_code = parse_lot_code(code).site
    product = entry_at(snap.registers, "product", row.product or "", at_us)
    site = entry_at(snap.registers, "site", site_code, at_us)
    if not isinstance(product, Product) or not isinstance(site, Site):
        raise problem_error("no_label", f"{code} is not recorded yet: its product is not known")
    by_kind = {
        kind: [lot.code for lot in origin.lots if kind_of(lot.kind) == kind and lot.code != code]
        for kind in ("wheel", "make")
    }
    is_wheel = kind_of_code(code) == "wheel"
    day = from_us(at_us).date()
    try:
        return make_label(
            LabelFacts(
                kind="wheel" if is_wheel else "portion",
                product=product,
                site=site,
                lot=code,
                mass_g=None if product.weight == "fixed" else row.made_g,
                count=1 if product.weight == "fixed" else max(row.made_count, 1),
                packed_on=None if is_wheel else day,
                made_on=day if is_wheel else None,
                wheels=by_kind["wheel"],
                makes=by_kind["make"],
            )
        )
    except ValueError as error:
        raise problem_error("no_label", str(error)) from None


def draw_label(content: LabelContent, fmt: LabelFormat, params: LabelParams) -> bytes:
    """Draw a label as SVG, PNG or PDF; raises ProblemError ``no_label`` if it does not fit."""
    try:
        return render_label(content, params.size, fmt, dots_per_mm=params.dots_per_mm)
    except LabelError as error:
        raise problem_error("no_label", str(error)) from None
