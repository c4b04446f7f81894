"""The scale and the outbox that a station's command names."""

import os
from argparse import Namespace
from pathlib import Path

from rindline.errors import InvalidInputError
from rindline.stations import LineFormat, Scale, WeighRule, open_port_at

__all__ = ["open_scale", "outbox_path"]


def outbox_path(arguments: Namespace) -> Path:
    """Give the outbox's file, or say that none is named."""
    named = arguments.outbox or os.environ.get("RINDLINE_OUTBOX")
    if not named:
        raise InvalidInputError("Name the outbox's file with --outbox or RINDLINE_OUTBOX.")
    return Path(named)


def open_scale(arguments: Namespace) -> Scale:
    """Give the scale the arguments describe."""
    return Scale(
        open_port_at(arguments.port, baud=arguments.baud, frame=arguments.frame),
        LineFormat(
            arguments.format,
            unit=arguments.unit,
            stable_when=arguments.stable_when,
            decimal=arguments.decimal,
        ),
        WeighRule(
            readings=arguments.readings,
            seconds=arguments.still,
            tolerance_g=arguments.within,
            most_g=arguments.most,
        ),
    )
