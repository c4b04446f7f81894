"""Cut a wheel, halved across and then quartered; each piece is weighed, stamped and labelled.

cut_and_stamp.py WHEEL SCALE OUTBOX, with RINDLINE_SERVER and RINDLINE_KEY; SCALE is /dev/ttyUSB0
or tcp://host:port. Needs rindline[labels,stations]. The network may be down.
"""

import os
import sys
from pathlib import Path

from rindline import Client, Outbox
from rindline.labels import LabelContent, RegisterCache, render_label
from rindline.stations import (
    LineFormat,
    Scale,
    Stamper,
    expected_piece,
    open_port_at,
    quarters_of_halves,
)
from rindline_schema.codes import parse_lot_code

# How this scale writes a line, for example "ST,NT,+008.012kg".
LINES = LineFormat(r"(?P<stable>ST|US),NT,(?P<value>[+-]\d{3}\.\d{3})(?P<unit>kg)")


def put_label(label: LabelContent) -> None:
    """Write the label; to a printer: :func:`rindline.labels.print_label`."""
    Path(f"{label.code}.pdf").write_bytes(render_label(label))


def agreed(doubt: str) -> bool:
    """Ask the person at the scale."""
    return input(f"{doubt} Take it all the same? y or n: ").strip() == "y"


def main(wheel: str, port: str, outbox_file: str) -> None:
    """Stamp the eight pieces."""
    client = Client(os.environ["RINDLINE_SERVER"], os.environ.get("RINDLINE_KEY"))
    registers = RegisterCache(Path("registers.json"))
    if registers.fetched_at is None:
        registers.fetch(client)
    product, site = registers.product("QB-EIGHTH"), registers.site(parse_lot_code(wheel).site)
    with Outbox(outbox_file, client) as outbox, Scale(open_port_at(port), LINES) as scale:
        codes = outbox.codes("portion")
        codes.wait()
        stamper = Stamper(outbox, codes, put_label, lot=wheel, product=product, site=site)
        whole_g = scale.take()
        print(f"{wheel}  {whole_g} g", flush=True)
        places = quarters_of_halves()
        for place in places:
            mass_g = scale.take(expected=expected_piece(whole_g, place), confirm=agreed)
            piece = stamper.stamp(mass_g, place, weighed_g=whole_g, finished=place is places[-1])
            print(f"{piece.lot}  {mass_g} g  queued: {outbox.status().queued}", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
