"""Weigh the wheels of a make as they are hooped; each gets its code and its label at once.

weigh_and_hoop.py MAKE WHEELS SCALE OUTBOX, with RINDLINE_SERVER and RINDLINE_KEY; SCALE is
/dev/ttyUSB0 or tcp://host:port. Needs rindline[labels,stations]. The network may be down.
"""

import os
import sys
from pathlib import Path

from rindline import Client, Outbox
from rindline.labels import LabelFacts, RegisterCache, make_label, render_label
from rindline.stations import LineFormat, Scale, open_port_at
from rindline_schema.codes import parse_lot_code
from rindline_schema.events import NewWheel

# How this scale writes a line, for example "ST,NT,+008.012kg".
LINES = LineFormat(r"(?P<stable>ST|US),NT,(?P<value>[+-]\d{3}\.\d{3})(?P<unit>kg)")


def main(make: str, wheels: str, port: str, outbox_file: str) -> None:
    """Hoop so many wheels."""
    client = Client(os.environ["RINDLINE_SERVER"], os.environ.get("RINDLINE_KEY"))
    registers = RegisterCache(Path("registers.json"))
    if registers.fetched_at is None:
        registers.fetch(client)
    product, site = registers.product("QB-WHEEL"), registers.site(parse_lot_code(make).site)
    with Outbox(outbox_file, client) as outbox, Scale(open_port_at(port), LINES) as scale:
        codes = outbox.codes("wheel")
        for left in reversed(range(int(wheels))):
            mass_g = scale.take()
            lot = codes.stamp(wait_s=30)
            wheel = NewWheel(lot=lot, mass_g=mass_g)
            # On disk before the label: what bears a label is always told in the end.
            outbox.hoop(
                make=make, product=product.code, wheels=[wheel], room="QM-WARM", finished=not left
            )
            facts = LabelFacts(
                kind="wheel",
                product=product,
                site=site,
                lot=lot,
                mass_g=mass_g,
                made_on=parse_lot_code(make).day,
                makes=[make],
            )
            # To a printer: rindline.labels.print_label.
            Path(f"{lot}.pdf").write_bytes(render_label(make_label(facts)))
            print(f"{lot}  {mass_g} g  queued: {outbox.status().queued}", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
