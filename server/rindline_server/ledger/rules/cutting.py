"""Cutting and blending: new lots from old ones."""

from rindline_schema.codes import kind_of_code
from rindline_schema.events import Blend, Cut
from rindline_server.calc.apportion import apportion
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import Effects
from rindline_server.ledger.fold_places import Place
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.rules.lines import Lines, check_letter, input_g

__all__ = ["blend_effects", "check_blend", "check_blend_mass", "check_cut", "cut_effects"]


def check_cut(event: Cut, lookup: Lookup) -> None:
    """Refuse unknown products, tool or room, and to cut anything but a wheel or portion."""
    if kind_of_code(event.lot) not in ("wheel", "portion"):
        raise refuse("wrong_kind", f"{event.lot} is not a wheel or portion", lot=event.lot)
    lookup.tool(event.tool)
    lookup.room(event.room, event.site or "")
    for piece in event.pieces:
        check_letter(piece.lot, lookup.product(piece.product, "portion", "trim"))


def cut_effects(event: Cut) -> Effects:
    """Make the pieces of the lot; what was weighed, lost or finished is booked on the lot."""
    lines = Lines(event)
    if event.weighed_g is not None:
        lines.entry("weigh", event.lot, event.weighed_g)
    for piece in event.pieces:
        lot = piece.lot or ""
        place = piece.place
        detail = Place(place.from_deg, place.to_deg, place.layer).text if place else None
        lines.entry("take", event.lot, piece.mass_g, detail=detail)
        lines.edge(event.lot, lot, piece.mass_g)
        lines.entry(
            "born", lot, piece.mass_g, count=piece.count, room=event.room, detail=piece.product
        )
    if event.loss_g:
        lines.entry("loss", event.lot, event.loss_g)
    if event.finished:
        lines.entry("finish", event.lot)
    return lines.effects()


def check_blend(event: Blend, lookup: Lookup) -> None:
    """Refuse unknown products, tool or room, and outputs that aren't sold or worked on."""
    lookup.tool(event.tool)
    lookup.room(event.room, event.site or "")
    for output in event.outputs:
        check_letter(output.lot, lookup.product(output.product, "blend", "portion", "trim"))


def check_blend_mass(event: Blend, tolerance: ScaleTolerance) -> None:
    """Refuse outputs that outweigh the inputs."""
    in_g = sum(input_g(item) for item in event.inputs)
    out_g = sum(output.mass_g for output in event.outputs)
    if out_g > in_g + tolerance.of(in_g):
        raise refuse("not_enough", f"{out_g} g come out but only {in_g} g went in", left_g=in_g)


def blend_effects(event: Blend) -> Effects:
    """Make the outputs of all inputs: each output holds a share of every input.

    Every output descends from every input, be the share less than a gram. Of each input, what is
    in no output is booked as lost in cutting.
    """
    lines = Lines(event)
    weights = [input_g(item) for item in event.inputs]
    left = list(weights)
    made = [output.mass_g for output in event.outputs]
    for output, out_g in zip(event.outputs, _within(made, sum(weights)), strict=True):
        lot = output.lot or ""
        # Shared out of what is left: so no input gives more than went in, however rounded.
        shares = apportion(out_g, left) if out_g else [0] * len(left)
        for i, (item, share_g) in enumerate(zip(event.inputs, shares, strict=True)):
            left[i] -= share_g
            lines.edge(item.lot, lot, share_g)
        lines.entry(
            "born", lot, output.mass_g, count=output.count, room=event.room, detail=output.product
        )
    for item, in_g, left_g in zip(event.inputs, weights, left, strict=True):
        lines.entry("take", item.lot, in_g - left_g, count=item.count or 0)
        if left_g:
            lines.entry("loss", item.lot, left_g)
    return lines.effects()


def _within(made: list[int], in_g: int) -> list[int]:
    """Give the outputs' grams, scaled down if the scale let them outweigh the inputs."""
    return made if sum(made) <= in_g else apportion(in_g, made)
