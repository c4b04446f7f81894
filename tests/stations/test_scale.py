"""The scale as a whole: over a pseudo-terminal, over TCP, lost and found again."""

import os
import random

import pytest

from rindline import InvalidInputError
from rindline.stations import (
    DoubtfulMassError,
    Expected,
    LineFormat,
    Scale,
    ScaleGoneError,
    ScaleTimeoutError,
    SerialPort,
    Standing,
    TcpPort,
    WeighRule,
    open_port_at,
)
from rindline.testing import FakeClock
from tests.stations.scale_player import (
    FORMAT,
    QUICK,
    PlayedPort,
    harmed,
    line,
    opener,
    played,
    playing,
    serving,
    sliced,
    terminal,
    weighing,
)

_PIECES = 12


def _masses(dice: random.Random) -> list[int]:
    # Never twice the same one after the other, so that a piece taken twice is seen.
    return dice.sample(range(120, 12_000), _PIECES)


def _is_part_in_order(taken: list[int], masses: list[int]) -> bool:
    rest = iter(masses)
    return all(mass_g in rest for mass_g in taken)


def _taken_until(scale: Scale, last_g: int) -> list[int]:
    taken: list[int] = []
    heard = False
    while taken[-1:] != [last_g]:
        standing = scale.watch(5)
        if standing.state == "stable":
            taken.append(scale.taken())
        # Before the first whole line the scale is silent too.
        assert not (heard and standing.state == "silent"), taken
        heard = heard or standing.state != "silent"
    return taken


@pytest.mark.parametrize("seed", range(4))
def test_a_clean_terminal_gives_every_mass_once(seed: int) -> None:
    """Over a real pseudo-terminal pair, in slices: every piece's mass, in order, nothing else."""
    dice = random.Random(seed)
    masses = _masses(dice)
    data = line(0) * 3 + b"".join(text for g in masses for text in weighing(g, dice))
    with (
        terminal() as pair,
        Scale(pair.port, FORMAT, QUICK) as scale,
    ):
        scale.watch(0)
        with playing(pair, list(sliced(data, dice))):
            taken = _taken_until(scale, masses[-1])
    assert taken == masses


@pytest.mark.parametrize("seed", range(12))
def test_whatever_harms_the_line_nothing_wrong_is_taken(seed: int) -> None:
    """A third of the lines cut, torn, garbled or drowned in noise, over a real pseudo-terminal:
    what is taken are true masses, each at most once, in order; and most are taken.
    """
    dice = random.Random(1000 + seed)
    masses = _masses(dice)
    lines = [text for g in masses for text in weighing(g, dice)]
    data = line(0) + b"".join(harmed(lines, dice, 0.33)) + line(0) * 2 + line(54_321) * 12
    with (
        terminal() as pair,
        Scale(pair.port, FORMAT, QUICK) as scale,
    ):
        scale.watch(0)
        with playing(pair, list(sliced(data, dice))):
            taken = _taken_until(scale, 54_321)
    assert scale.unreadable > 20
    assert _is_part_in_order(taken[:-1], masses)
    assert len(taken) > _PIECES // 2


def test_the_played_harm_would_be_believed_if_one_reading_were_enough() -> None:
    """The noise of these tests is noise: taken at one reading each, wrong masses get through a
    pattern without fixed digits.
    """
    dice = random.Random(7)
    masses = _masses(dice)
    lines = [text for g in masses for text in weighing(g, dice)]
    port = PlayedPort([b"\n", *harmed(lines, dice, 0.33)])
    loose = LineFormat(r".*?(?P<value>[\d.]+)[kg]*", unit="kg")
    one = WeighRule(readings=1, seconds=0, least_g=1, silence_s=30)
    scale = Scale(opener(port), loose, one, clock=FakeClock())
    taken = []
    while port.pieces:
        if scale.watch(0).state == "stable":
            taken.append(scale.taken())
    assert set(taken) - set(masses)


def _taken_over_tcp(scripts: list[bytes], rule: WeighRule) -> list[int]:
    taken = []
    with (
        serving(scripts) as port,
        Scale(lambda: TcpPort("127.0.0.1", port), FORMAT, rule, clock=FakeClock()) as scale,
    ):
        # Until the box is gone for good.
        while "does not answer" not in (standing := scale.watch(5)).detail:
            if standing.state == "stable":
                taken.append(scale.taken())
    return taken


def test_a_box_that_hangs_up_is_called_again() -> None:
    """Over TCP, cut off in the middle of lines: each connection's mass is taken, once."""
    scripts = [
        b"\n" + line(8012) * 5 + line(7_777)[:9],
        b"99kg\r\n" + line(8012) * 9 + line(0) * 3 + line(7950) * 5 + line(7_777)[:4],
        b"\n" + line(0) * 2 + line(6100) * 5,
    ]
    assert _taken_over_tcp(scripts, QUICK) == [8012, 7950, 6100]


def test_halves_of_two_connections_are_not_joined() -> None:
    """Half a line before the connection was lost and half of one after it are no mass, even where
    one reading is enough.
    """
    scripts = [b"\n" + line(8012) + line(7_777)[:10], line(7_777)[10:], b"\n" + line(6100)]
    one = WeighRule(readings=1, seconds=0, silence_s=12)
    assert _taken_over_tcp(scripts, one) == [8012, 6100]


def test_a_lost_scale_is_waited_for_longer_and_longer() -> None:
    """While the port cannot be opened the scale stands as disconnected, says why, and is tried
    ever more seldom, at most every five seconds; then it works as before.
    """
    port = PlayedPort([b"\n", line(8000) * 3])
    clock = port.clock
    doors = opener()
    scale = Scale(doors, FORMAT, QUICK, clock=clock)
    for _ in range(2000):
        assert scale.watch(0.2) == Standing("disconnected", detail="The played scale is not there.")
    assert clock.passed_s / 5 <= doors.opened <= clock.passed_s / 5 + 10
    doors.ports.append(port)
    assert scale.take(timeout_s=60) == 8000


def test_a_piece_seen_before_and_after_a_break_has_not_stood() -> None:
    """Readings from before the port was lost do not count with those after it."""
    first = PlayedPort([b"\n" + line(8000) * 2, None])
    second = PlayedPort([b"\n" + line(8000), line(8000), line(8000)])
    scale = Scale(opener(first, second), FORMAT, QUICK, clock=FakeClock())
    states = [scale.watch(1).state for _ in range(5)]
    assert states == ["unsettled", "disconnected", "disconnected", "unsettled", "unsettled"]
    assert scale.watch(1).state == "stable"
    assert first.closed == 1


def test_a_piece_seen_before_and_after_noise_has_not_stood() -> None:
    """What happened during an unreadable line nobody knows: the readings begin anew after it."""
    noise = b"ST,NT,+00\xff.000kg\r\n"
    scale, _ = played(
        line(0) + line(8000) * 2, noise + line(8000), noise + line(8000) * 2, line(8000)
    )
    states = [scale.watch(0).state for _ in range(4)]
    assert states == ["unsettled", "unsettled", "unsettled", "stable"]
    assert scale.unreadable == 2


def test_a_terminal_that_goes_away_is_noticed() -> None:
    """The other end of the pseudo-terminal closes: the serial port says so, and closes well."""
    with terminal() as pair:
        port = SerialPort(pair.path)
        pair.play(b"abc")
        assert port.read(5) == b"abc"
        assert port.read(0) == b""
        os.close(pair.master)
        with pytest.raises(ScaleGoneError, match="was lost"):
            port.read(5)
        port.close()
        port.close()


def test_a_serial_port_is_for_one_reader() -> None:
    """A second reader would get half of the lines: it does not get the port."""
    with terminal() as pair:
        first = SerialPort(pair.path)
        with pytest.raises(ScaleGoneError, match="cannot be opened"):
            SerialPort(pair.path)
        first.close()
        SerialPort(pair.path).close()


def test_what_lay_there_before_the_call_does_not_count() -> None:
    """Lines that waited while nobody watched are let go: a mass must stand after the call."""
    scale, port = played(line(0) + line(8012) * 2, line(8012) * 9, b"", line(8012) * 2)
    assert scale.watch(0).state == "unsettled"
    scale.catch_up()
    assert scale.watch(0).state == "unsettled"
    port.pieces += [line(7950) * 3]
    assert scale.watch(0).state == "stable"
    assert scale.taken() == 7950


def test_the_same_piece_is_not_taken_for_the_next() -> None:
    """A second take() while the piece still lies there waits until it was taken off."""
    scale, _ = played(
        line(0) + line(8000) * 3, line(8000) * 9, b"", line(8000) * 9, line(0) * 2, line(8000) * 3
    )
    assert scale.take() == 8000
    shown: list[Standing] = []
    assert scale.take(show=shown.append, timeout_s=60) == 8000
    assert [standing.state for standing in shown] == ["taken", "empty", "stable"]


def test_emptied_while_nobody_watched_is_emptied() -> None:
    """The piece came off and the next went on while the script was busy: it may be taken."""
    scale, _ = played(
        line(0) + line(8000) * 3, line(8000) * 3 + line(0) * 2 + line(8000), b"", line(8000) * 3
    )
    assert scale.take() == 8000
    assert scale.take(timeout_s=60) == 8000


_SOME = Expected(7000, 8000, "the lot last weighed 8000 g", "it may be another wheel")


def test_a_doubtful_mass_is_put_to_somebody() -> None:
    """Outside what is expected: taken if a person says so, else it must come off, and the next."""
    asked: list[str] = []

    def no_then_yes(doubt: str) -> bool:
        asked.append(doubt)
        return len(asked) > 1

    scale, _ = played(line(0) + line(9000) * 3, b"", line(9000) * 5, line(0) * 3 + line(9500) * 3)
    assert scale.take(expected=_SOME, confirm=no_then_yes, timeout_s=60) == 9500
    assert [doubt.split(" lies")[0] for doubt in asked] == ["9000 g", "9500 g"]
    assert "another wheel" in asked[0]


def test_a_doubtful_mass_is_not_taken_by_a_script_alone() -> None:
    """Without anybody to confirm it, it is an error that carries the mass."""
    scale, _ = played(line(0) + line(9000) * 3)
    with pytest.raises(DoubtfulMassError, match="9000 g lies outside 7000 to 8000 g") as raised:
        scale.take(expected=_SOME)
    assert raised.value.mass_g == 9000


@pytest.mark.parametrize("mass_g", [7000, 8000])
def test_an_expected_mass_asks_nobody(mass_g: int) -> None:
    """Inside what is expected, both ends included, confirm is never called."""
    scale, _ = played(line(0) + line(mass_g) * 3)
    assert scale.take(expected=_SOME, confirm=pytest.fail, timeout_s=60) == mass_g


def test_waiting_ends_when_it_was_told_to() -> None:
    """After ``timeout_s`` it says how the scale stands."""
    scale = Scale(opener(), FORMAT, QUICK, clock=FakeClock())
    with pytest.raises(ScaleTimeoutError, match=r"disconnected\. The played scale is not there"):
        scale.take(timeout_s=3)


@pytest.mark.parametrize(
    "address", ["tcp://", "tcp://host", "tcp://h:0", "tcp://h:99999", "udp://h:1"]
)
def test_an_address_that_cannot_be_one_is_refused(address: str) -> None:
    """A mistyped address is said at once, not waited for."""
    with pytest.raises(InvalidInputError, match="is not an address"):
        open_port_at(address)


def test_addresses_lead_where_they_say() -> None:
    """``tcp://host:port`` connects, a path opens a serial port; a wrong frame is said at once."""
    with serving([b"abc"]) as number:
        port = open_port_at(f"tcp://127.0.0.1:{number}")()
        assert port.read(5) == b"abc"
        port.close()
    with pytest.raises(ScaleGoneError, match="does not answer"):
        open_port_at(f"tcp://127.0.0.1:{number}")()
    with pytest.raises(ScaleGoneError, match="cannot be opened"):
        open_port_at("/dev/no-such-scale")()
    with pytest.raises(InvalidInputError, match="8N1"):
        open_port_at("/dev/no-such-scale", frame="9X9")()


def test_without_pyserial_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """A serial scale without the extra is an error that names it; one on TCP needs nothing."""
    monkeypatch.setitem(__import__("sys").modules, "serial", None)
    with pytest.raises(InvalidInputError, match=r"rindline\[stations\]"):
        open_port_at("/dev/ttyUSB0")
    open_port_at("tcp://127.0.0.1:9")
