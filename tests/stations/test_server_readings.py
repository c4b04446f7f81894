"""A logger, its file and the questions about air against the real server, on both databases."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from rindline import Client, NotFoundError, ReadingOutbox
from rindline.cli import main
from rindline_schema.answers import Reading
from rindline_schema.events import Input, NewWheel
from rindline_schema.registers import Partner, Product, Room, Sensor, Tool
from tests.stations.outbox_parts import PATIENT
from tests.stations.real_server import RealServer, real_serving

# Lately, and to whole hours: the server refuses what has not come yet.
NOW = datetime.fromisoformat("2026-03-02T00:00:00+00:00")
HOURS = 48


def _declare(client: Client) -> str:
    """Declare a room with a sensor, and hoop a wheel in it; gives the wheel."""
    for entry in (
        Room(code="CAVE-1", name="The first cave", site="QM", least_c=8, most_c=14),
        Sensor(code="S-1", name="By the door", room="CAVE-1", offset_c=-0.5),
        Tool(code="VAT-1", kind="vat", name="The vat", site="QM"),
        Partner(code="HERD", name="The herd", roles=["supplier"]),
        Product(code="MILK", kind="milk", name="Raw milk"),
        Product(code="CURD", kind="make", name="The vat's work"),
        Product(code="WHEEL", kind="wheel", name="The wheel"),
    ):
        client.declare(entry=entry, site="QM", at=NOW)
    milk = client.receive(product="MILK", supplier="HERD", volume_ml=96_000, site="QM", at=NOW)
    made = client.make(
        product="CURD",
        vat="VAT-1",
        inputs=[_input(milk.lots[0].lot)],
        site="QM",
        at=NOW + timedelta(minutes=5),
    )
    hooped = client.hoop(
        make=made.lots[0].lot,
        product="WHEEL",
        room="CAVE-1",
        wheels=[NewWheel(mass_g=9_000)],
        site="QM",
        at=NOW + timedelta(hours=2),
    )
    return hooped.lots[0].lot


def _input(lot: str) -> Input:
    return Input(lot=lot, volume_ml=96_000)


def _readings() -> list[Reading]:
    """Every ten minutes for two days: 12.5 degrees as the sensor shows it, 92 %."""
    return [
        Reading(
            sensor="S-1",
            at=NOW + timedelta(minutes=10 * number),
            temperature_c=12.5,
            humidity_pct=92.0,
        )
        for number in range(HOURS * 6 + 1)
    ]


def _address(server: RealServer) -> str:
    return "http://{}:{}".format(*server.address)


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    return tmp_path / "air.svg"


def test_a_logger_and_its_questions_from_end_to_end(
    tmp_path: Path, database_url: str, picture: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Readings through an outbox, then a file told again; sensors, climate and conditions as
    answers, on the command line and as a picture.
    """
    file = tmp_path / "export.csv"
    file.write_text(_exported(), "utf-8")
    with real_serving(database_url, tmp_path) as server:
        with Client(_address(server), server.office) as office:
            wheel = _declare(office)
            assert [one.wheels for one in office.comparison(by="room").groups] == [1]
        with Client(_address(server), server.key) as client:
            with ReadingOutbox(tmp_path / "readings.db", client, policy=PATIENT) as outbox:
                outbox.many([*_readings(), Reading(sensor="S-9", at=NOW, temperature_c=1.0)])
                status = outbox.send()
                while status.queued:
                    status = outbox.send()
                [aside] = outbox.set_aside()
                assert (aside.reading.sensor, aside.problem.code) == ("S-9", "not_declared")
            [sensor] = client.sensors()
            assert (sensor.room, sensor.last_temperature_c) == ("CAVE-1", 12.5)
            until = NOW + timedelta(hours=HOURS)
            climate = client.climate("CAVE-1", from_at=NOW, until_at=until, series="hours")
            assert climate.figures.temperature is not None
            assert climate.figures.temperature.mean_c == pytest.approx(12.0)
            assert len(climate.series) == HOURS
            path = client.conditions(wheel).paths[0]
            assert path.figures.observed_hours == pytest.approx(HOURS - 2)
            assert client.weight_loss(wheel).lot == wheel
            with pytest.raises(NotFoundError):
                client.climate("CAVE-9")
        key = tmp_path / "station.key"
        key.write_text(server.key, "ascii")
        how = ["--server", _address(server), "--key-file", str(key)]
        codes = [
            main(["readings", "import", str(file), *_MAPPING, *how]),
            main(
                ["climate", "CAVE-1", "--from", "2026-03-02T00Z", "--until", "2026-03-04T00Z", *how]
            ),
            main(["conditions", wheel, "--picture", str(picture), *how]),
            main(["weight-loss", wheel, *how]),
            main(["sensors", *how]),
        ]
    assert codes == [0, 0, 0, 0, 0]
    out = capsys.readouterr().out
    assert f"{HOURS * 6 + 1} rows: 0 recorded, {HOURS * 6 + 1} recorded before" in out
    assert "mean 12.00 °C" in out
    assert "rooms   │CAVE-1" in out
    assert picture.read_bytes().startswith(b"<svg")


_SPAN = ("--from", "2026-03-02T00Z", "--until", "2026-03-04T00Z")
_MAPPING = (
    *("--time", "Date", "--time", "Time", "--temperature", "Temp", "--humidity", "RH"),
    *("--time-format", "%d/%m/%Y %H:%M", "--zone", "WET", "--sensor", "S-1"),
)


def _exported() -> str:
    lines = [
        f"{one.at.astimezone(UTC):%d/%m/%Y,%H:%M},{one.temperature_c},{one.humidity_pct}"
        for one in _readings()
    ]
    return "Date,Time,Temp,RH\n" + "\n".join(lines)
