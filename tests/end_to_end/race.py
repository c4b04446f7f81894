"""Several stations cut the same wheels at the same moments, and what must come of it."""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from rindline_schema.answers import Told, TraceAnswer
from rindline_schema.events import Cut
from rindline_schema.problems import Problem
from rindline_server.calc.tolerance import ScaleTolerance
from tests.service.dairy import Dairy

__all__ = ["WAIT_S", "Race", "Station"]

WAIT_S = 120.0

Station = Callable[[Cut], Told | Problem]
"""Tells one cut and gives what was answered."""


@dataclass
class Race:
    """``wheels`` of ``wheel_g`` each, of which every station wants ``piece_g`` at one moment.

    Pieces that fit a wheel within the scale's tolerance must be accepted, all others refused
    with the grams left.
    """

    wheels: Sequence[str]
    wheel_g: int
    piece_g: int
    answers: dict[str, list[Told | Problem]] = field(default_factory=dict)

    @property
    def fits(self) -> int:
        """How many pieces a wheel has."""
        return (self.wheel_g + ScaleTolerance().of(self.wheel_g)) // self.piece_g

    def run(self, dairy: Dairy, stations: Sequence[Station]) -> None:
        """Let all stations tell their cut of each wheel together, wheel after wheel."""
        together = threading.Barrier(len(stations))
        self.answers = {wheel: [] for wheel in self.wheels}
        cuts = [
            [dairy.cut(wheel, dairy.piece(self.piece_g)) for wheel in self.wheels] for _ in stations
        ]
        faults: list[BaseException] = []

        def cut_all(station: Station, own: list[Cut]) -> None:
            try:
                for cut in own:
                    together.wait(WAIT_S)
                    self.answers[cut.lot].append(station(cut))
            except BaseException as error:  # noqa: BLE001 - a thread's error must reach the test
                faults.append(error)
                together.abort()

        threads = [
            threading.Thread(target=cut_all, args=pair) for pair in zip(stations, cuts, strict=True)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(len(self.wheels) * WAIT_S)
        assert faults == []

    def wrongs(self, stations: int, trace: TraceAnswer) -> list[str]:
        """Say everything that is not as it must be; ``trace`` goes forward through all wheels."""
        found: list[str] = []
        cut_g: dict[str, list[int]] = {wheel: [] for wheel in self.wheels}
        for edge in trace.edges:
            if edge.parent in cut_g:
                cut_g[edge.parent].append(edge.mass_g)
        left_g = self.wheel_g - self.fits * self.piece_g
        refusal = ("not_enough", max(left_g, 0))
        for wheel, answers in self.answers.items():
            told = [answer for answer in answers if isinstance(answer, Told)]
            refused = [
                (answer.code, answer.left_g) for answer in answers if isinstance(answer, Problem)
            ]
            out_g = sum(cut_g[wheel])
            if out_g > self.wheel_g + ScaleTolerance().of(self.wheel_g):
                found.append(f"{out_g} g came out of {wheel}")
            if len(cut_g[wheel]) != len(told):
                found.append(f"{len(told)} cuts of {wheel} acknowledged, {len(cut_g[wheel])} there")
            if len(told) != self.fits:
                found.append(f"{len(told)} of {self.fits} pieces of {wheel} accepted")
            if refused != [refusal] * (stations - self.fits):
                found.append(f"{wheel}: losers were told {refused}")
        return found
