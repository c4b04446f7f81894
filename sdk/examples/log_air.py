"""Log the air of a room: every five minutes a reading, on this machine's disk until it is told.

log_air.py SENSOR OUTBOX, with RINDLINE_SERVER and RINDLINE_KEY. The network may be down for weeks;
the machine's clock must be right.
"""

import os
import sys
import time
from pathlib import Path

from rindline import Client, ReadingOutbox, RindlineError

EVERY_S = 300
# Where this probe's driver shows thousandths of a degree and of a percent.
PROBE = Path("/sys/bus/iio/devices/iio:device0")


def probed(name: str) -> float:
    """Read one quantity of the probe."""
    return int((PROBE / name).read_text("ascii")) / 1000


def main(sensor: str, outbox_file: str) -> None:
    """Log for ever."""
    client = Client(os.environ["RINDLINE_SERVER"], os.environ.get("RINDLINE_KEY"))
    with ReadingOutbox(outbox_file, client) as outbox:
        while True:
            try:
                outbox.read(
                    sensor,
                    temperature_c=probed("in_temp_input"),
                    humidity_pct=probed("in_humidityrelative_input"),
                )
            except (RindlineError, OSError, ValueError) as error:
                # A broken probe, a full disk: what is not read stays a gap, and is seen.
                print(f"not kept: {error}", file=sys.stderr, flush=True)
            status = outbox.status()
            if status.set_aside or status.paused:
                print(f"see: rindline readings status {outbox_file}", file=sys.stderr, flush=True)
            time.sleep(EVERY_S)


if __name__ == "__main__":
    main(*sys.argv[1:])
