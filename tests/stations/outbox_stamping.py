"""A label printer's script, to be killed: stamps a code, tells the lot's event, prints the label.

Arguments: the outbox's file, the server's address, the file that stands for the printed labels,
the station's key.
"""

import os
import sys

from rindline import Client
from rindline.outbox import Outbox
from tests.stations.outbox_parts import PATIENT

__all__: list[str] = []


def main() -> None:
    """Stamp for ever."""
    path, address, labels, key = sys.argv[1:]
    # Unbuffered and appended in one go: what is printed stays printed when the process is killed.
    paper = os.open(labels, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    outbox = Outbox(path, Client(address, key), policy=PATIENT)
    codes = outbox.codes("ingredient", reserve=100, days=1)
    while True:
        code = codes.stamp(wait_s=30.0)
        outbox.receive(product="SALT", supplier="SALTERN", lot=code, mass_g=25_000)
        os.write(paper, f"{code}\n".encode())


if __name__ == "__main__":
    main()
