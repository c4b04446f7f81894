"""A station's devices: a scale, what a piece should weigh, packs of one nominal mass.

``Scale(open_port_at("/dev/ttyUSB0"), LineFormat(...)).take()`` gives a mass that stood still. A
scale on a serial port needs pyserial (``pip install 'rindline[stations]'``); one on TCP nothing.
"""

from rindline.stations._errors import (
    DoubtfulMassError,
    ScaleError,
    ScaleGoneError,
    ScaleTimeoutError,
)
from rindline.stations._expected import Expected, expected_of_lot, expected_piece
from rindline.stations._geometry import (
    Layer,
    eighths,
    halves,
    predicted_mass_g,
    quarters_of_halves,
    wedges,
)
from rindline.stations._packs import PackCheck, check_packs, tolerable_negative_error_mg
from rindline.stations._ports import OpenPort, Port, SerialPort, TcpPort, open_port_at
from rindline.stations._readings import LineFormat, LineSplitter, Reading, grams_of
from rindline.stations._scale import Scale
from rindline.stations._stability import StabilityDetector, Standing, State, WeighRule
from rindline.stations._stamping import Stamped, Stamper

__all__ = [
    "DoubtfulMassError",
    "Expected",
    "Layer",
    "LineFormat",
    "LineSplitter",
    "OpenPort",
    "PackCheck",
    "Port",
    "Reading",
    "Scale",
    "ScaleError",
    "ScaleGoneError",
    "ScaleTimeoutError",
    "SerialPort",
    "StabilityDetector",
    "Stamped",
    "Stamper",
    "Standing",
    "State",
    "TcpPort",
    "WeighRule",
    "check_packs",
    "eighths",
    "expected_of_lot",
    "expected_piece",
    "grams_of",
    "halves",
    "open_port_at",
    "predicted_mass_g",
    "quarters_of_halves",
    "tolerable_negative_error_mg",
    "wedges",
]
