"""A logger's export by a stated mapping: every line becomes a reading or says why not.

The files are invented; their shapes are common practice among loggers, no source.
"""

from datetime import UTC, datetime
from typing import Any

import pytest

from rindline import InvalidInputError
from rindline.logger_files import FileMapping, FileRead, decode_file, read_file

PLAIN = """Date/Time,Temp,RH
2026-02-03T06:30:00+01:00,11.25,91.5
2026-02-03T06:35:00+01:00,11.5,92
"""


def _read(text: str, **said: Any) -> FileRead:
    given = {"time": "Date/Time", "temperature": "Temp", "humidity": "RH", "sensor": "S-1"}
    return read_file(text, FileMapping(**{**given, **said}))


def _values(read: FileRead) -> list[tuple[str, float | None, float | None]]:
    return [
        (
            row.reading.at.astimezone(UTC).strftime("%m-%d %H:%M:%S"),
            row.reading.temperature_c,
            row.reading.humidity_pct,
        )
        for row in read.good
    ]


def test_a_plain_file_is_read_by_the_names_in_its_header() -> None:
    """Each row with its line number; names are found in any case and with blanks around them."""
    read = _read(PLAIN, temperature=" temp ", humidity="rh")
    assert _values(read) == [("02-03 05:30:00", 11.25, 91.5), ("02-03 05:35:00", 11.5, 92.0)]
    assert ([row.line for row in read.good], read.bad) == ([2, 3], [])
    assert {row.reading.sensor for row in read.good} == {"S-1"}


def test_a_mark_before_the_header_is_no_part_of_its_first_name() -> None:
    """Programs of one system begin UTF-8 files with a byte-order mark."""
    read = _read(decode_file(PLAIN.encode("utf-8-sig"), "UTF8"))
    assert len(read.good) == 2


def test_a_file_of_another_country_is_read() -> None:
    """Semicolons, decimal commas, day first, two columns of time, lines before the header, local
    time, and units beside the figures.
    """
    text = (
        "Logger 20394857\n\n"
        "Nr.;Datum;Zeit;Temperatur;Feuchte\n"
        "1;03.02.2026;06:30;11,25 °C;91,5 %\n"
        "2;03.07.2026;06:30;\u22120,5;92\n"
    )
    read = _read(
        text,
        time=("Datum", "Zeit"),
        temperature="Temperatur",
        humidity=5,
        time_format="%d.%m.%Y %H:%M",
        zone="CET",
        decimal_comma=True,
        delimiter=";",
        skip=2,
    )
    assert _values(read) == [("02-03 05:30:00", 11.25, 91.5), ("07-03 04:30:00", -0.5, 92.0)]
    assert read.bad == []


def test_fahrenheit_is_turned_into_celsius() -> None:
    """32 and 212 degrees are the two fixed points of the scales; kept to 0.001."""
    text = "Date/Time,Temp,RH\n2026-02-03T06:30Z,32,\n2026-02-03T06:35Z,52.3 °F,\n"
    read = _read(text, unit="fahrenheit")
    assert [row.reading.temperature_c for row in read.good] == [0.0, 11.278]
    wrong = _read(text.replace("°F", "°C"), unit="fahrenheit")
    assert "is not a number" in wrong.bad[0].why


def test_a_file_without_a_header_has_numbered_columns() -> None:
    """From 1; tabs between them; the first line counts."""
    read = _read(
        "2026-02-03 06:30\t-\t91\n", time=1, temperature=2, humidity=3, header=False,
        delimiter="\t", zone="+01:00", missing=("-",),
    )  # fmt: skip
    assert _values(read) == [("02-03 05:30:00", None, 91.0)]


def test_sensors_come_from_a_column() -> None:
    """Codes as they stand, or names that are turned into codes; a name that is no code is told."""
    text = (
        "Date/Time,Temp,RH,Probe\n"
        "2026-02-03T06:30Z,11,91,S-1\n"
        "2026-02-03T06:30Z,12,92,by the door\n"
        "2026-02-03T06:30Z,13,93,at the back\n"
    )
    read = _read(text, sensor=None, sensor_column="Probe", sensors={"by the door": "S-2"})
    assert [(row.reading.sensor, row.line) for row in read.good] == [("S-1", 2), ("S-2", 3)]
    [bad] = read.bad
    assert (bad.line, bad.text) == (4, "2026-02-03T06:30Z,13,93,at the back")
    assert "sensor" in bad.why


def test_times_of_each_sensor_are_resolved_by_themselves() -> None:
    """Two probes line by line through the hour that comes twice: neither disturbs the other."""
    lines = [
        f"2025-10-26 {time},11,91,{probe}"
        for time in ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")
        for probe in ("S-1", "S-2")
    ]
    read = _read(
        "Date/Time,Temp,RH,Probe\n" + "\n".join(lines),
        sensor=None,
        sensor_column="Probe",
        zone="WET",
    )
    assert read.bad == []
    moments = [row.reading.at.astimezone(UTC) for row in read.good]
    expected = [datetime(2025, 10, 25, 23, 30, tzinfo=UTC), datetime(2025, 10, 26, 2, tzinfo=UTC)]
    assert [moments[0], moments[-1]] == expected
    assert all((b - a).total_seconds() == 1800 for a, b in zip(moments, moments[2:], strict=False))


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("2026-02-03T06:31Z,eleven,91", "temperature 'eleven' is not a number"),
        ('2026-02-03T06:31Z,"11,5",91', "is it a decimal comma?"),
        ("2026-02-03T06:31Z,11.5,", None),
        ("2026-02-03T06:31Z,,", "it has no value"),
        ("2026-02-03T06:31Z,nan,91", "is not a number"),
        ("2026-02-03T06:31Z,1_1,91", "is not a number"),
        ("2026-02-03T06:31Z,-127,91", "temperature_c"),
        ("2026-02-03T06:31Z,11.5,101", "humidity_pct"),
        ("03.02.2026 06:31,11.5,91", "is not of the form iso"),
        ("2026-02-30T06:31Z,11.5,91", "is not of the form iso"),
        ("2026-02-03T06:31,11.5,91", "no time zone is stated"),
        ("2026-02-03T06:31Z,11.5", "it has 2 columns, and column 3 is asked for"),
        ('2026-02-03T06:31Z,"11.5,91', "end of data"),
        ("end of the recording", "column"),
    ],
)
def test_a_bad_row_is_told_with_its_line_and_harms_no_other(line: str, why: str | None) -> None:
    """The rows before and after go in; a stray quote does not swallow what follows."""
    read = _read(f"{PLAIN}{line}\n2026-02-03T06:40:00+01:00,11.75,93\n")
    if why is None:
        assert (len(read.good), read.bad) == (4, [])
        return
    assert [row.line for row in read.good] == [2, 3, 5]
    [bad] = read.bad
    assert (bad.line, bad.text) == (4, line)
    assert why in bad.why


def test_every_line_is_a_reading_or_told() -> None:
    """Whatever the lines hold, good and bad rows together are all that have something on them."""
    lines = ["", "x", ",,", '"', "2026-02-03T06:30Z,1,2", "\t", ";", "2026-02-03T06:31Z,,3", "\x1a"]
    read = _read("Date/Time,Temp,RH\n" + "\n".join(lines))
    assert sorted([*(row.line for row in read.good), *(row.line for row in read.bad)]) == [
        3,
        5,
        6,
        8,
        9,
    ]
    assert [row.line for row in read.good] == [6, 9]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"temperature": "Tmp"}, "no column 'Tmp': it has 'Date/Time', 'Temp', 'RH'"),
        ({"delimiter": ";"}, "no column 'Date/Time'"),
        ({"skip": 9}, "no line for a header"),
        ({"temperature": None, "humidity": None}, "which column holds"),
        ({"sensor": None}, "either the sensor's code or the column"),
        ({"sensor_column": "RH"}, "either the sensor's code or the column"),
        ({"zone": "Nowhere/Quillmere"}, "no time zone this machine knows"),
        ({"zone": "../etc/passwd"}, "no time zone this machine knows"),
        ({"zone": "+25:00"}, "no time zone this machine knows"),
        ({"time_format": "%H:%M"}, "has no year"),
        ({"time_format": "%Y-%Q"}, "no pattern of a time"),
        ({"decimal_comma": True}, "state the delimiter"),
        ({"delimiter": "::"}, "no character that parts columns"),
        ({"encoding": "latin-99"}, "no encoding"),
        ({"unit": "kelvin"}, "celsius or fahrenheit"),
        ({"repeated_hour": "third"}, "the first or the second"),
        ({"temperature": 0}, "numbered from 1"),
        ({"header": False}, "give its number"),
        ({"skip": -1}, "counted from 0"),
    ],
)
def test_a_mapping_that_cannot_fit_is_refused_before_a_row_is_read(
    said: dict[str, Any], why: str
) -> None:
    """What is wrong with all rows alike is said once, with what there is."""
    with pytest.raises(InvalidInputError, match=why):
        _read(PLAIN, **said)


def test_a_header_with_a_name_twice_asks_for_a_number() -> None:
    """Two columns of one name: which is meant cannot be known, a number says it."""
    text = PLAIN.replace("RH", "Temp")
    with pytest.raises(InvalidInputError, match="more than one column 'Temp'"):
        _read(text, humidity=None)
    assert _values(_read(text, temperature=2, humidity=None))[0][1] == 11.25


def test_an_encoding_that_does_not_fit_names_the_line() -> None:
    """Bytes of another encoding are not turned into something else silently."""
    data = PLAIN.replace("Temp", "Temp °C").encode("cp1252")
    with pytest.raises(InvalidInputError, match="Line 1 is not utf-8"):
        decode_file(data, "utf-8")
    assert "Temp °C" in decode_file(data, "cp1252")
    with pytest.raises(InvalidInputError, match="utf-16"):
        decode_file(b"abc", "utf-16")
