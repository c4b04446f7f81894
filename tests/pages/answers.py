"""Answers of any shape the contract allows, for hypothesis: also such as no dairy would get."""

from datetime import UTC, datetime, timedelta
from typing import Any, cast

from hypothesis import strategies as st

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    Ages,
    AirFigures,
    AirSpell,
    ClimateAnswer,
    ConditionPath,
    ConditionsAnswer,
    Doubt,
    DoubtKind,
    Handling,
    HourOfAir,
    HumidityFigures,
    RoomLimits,
    StayConditions,
    TemperatureFigures,
    UnobservedSpan,
)

__all__ = ["climates", "conditions"]

_BEGIN = datetime(2025, 12, 20, tzinfo=UTC)
_texts = st.text(max_size=60) | st.text("abcdefghij <&>\"'W\u00a0\u0301\u65e5\ufdfd", max_size=300)
_celsius = st.floats(-40, 85)
_percent = st.floats(0, 100)


@st.composite
def climates(draw: st.DrawFn) -> ClimateAnswer:
    """Give the air of a room, a day to two years long, with anything in it or nothing."""
    from_at, until_at = draw(_spans())
    return ClimateAnswer(
        room=draw(st.from_regex(r"[A-Z0-9][A-Z0-9_-]{0,31}", fullmatch=True)),
        name=draw(_texts),
        site="QM",
        from_at=from_at,
        until_at=until_at,
        as_of=1,
        safety_note=SAFETY_NOTE,
        rule="trapezoid",
        longest_gap_minutes=90,
        figures=draw(_figures(from_at, until_at)),
        limits=draw(st.lists(_limits(from_at, until_at), max_size=4)),
        unobserved=draw(_gaps(from_at, until_at)),
        doubts=draw(st.lists(_doubts(from_at, until_at), max_size=10)),
        series=draw(_series(from_at, until_at)),
        notes=draw(st.lists(_texts, max_size=10)),
    )


@st.composite
def conditions(draw: st.DrawFn) -> ConditionsAnswer:
    """Give the life of a lot over none to eight paths."""
    from_at, until_at = draw(_spans())
    paths = draw(st.lists(_path(from_at, until_at), max_size=2))
    return ConditionsAnswer(
        lot="QM26246W0011X",
        kind=draw(st.sampled_from(["wheel", "portion", "blend"])),
        at=until_at,
        as_of=1,
        safety_note=SAFETY_NOTE,
        rule="trapezoid",
        longest_gap_minutes=90,
        paths=paths * draw(st.sampled_from([1, 1, 4])),
        in_words=draw(_texts),
        product_name=draw(st.none() | _texts),
        paths_left_out=draw(st.sampled_from([0, 0, 400])),
        notes=draw(st.lists(_texts, max_size=3)),
    )


@st.composite
def _path(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> ConditionPath:
    return ConditionPath(
        lots=draw(st.lists(st.sampled_from(["QM26246W0011X", "QM26246P0017K"]), min_size=1)),
        from_at=from_at,
        until_at=until_at,
        stays=draw(st.lists(_stay(from_at, until_at), max_size=5)),
        figures=draw(_figures(from_at, until_at)),
        ages=Ages(
            counted_from=from_at - draw(st.timedeltas(timedelta(0), timedelta(days=3))),
            counted_from_what="make",
        ),
        handlings=draw(st.lists(_handling(from_at, until_at), max_size=60)),
        unobserved=draw(_gaps(from_at, until_at)),
        doubts=draw(st.lists(_doubts(from_at, until_at), max_size=3)),
        series=draw(_series(from_at, until_at)),
    )


@st.composite
def _spans(draw: st.DrawFn) -> tuple[datetime, datetime]:
    from_at = _BEGIN + draw(st.timedeltas(timedelta(0), timedelta(days=400)))
    length = draw(
        st.timedeltas(timedelta(days=1), timedelta(days=730))
        | st.sampled_from([timedelta(days=1), timedelta(days=84), timedelta(days=730)])
    )
    return from_at, from_at + length


@st.composite
def _within(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> tuple[datetime, datetime]:
    ends = sorted((draw(st.floats(0, 1)), draw(st.floats(0, 1))))
    length = until_at - from_at
    return from_at + ends[0] * length, from_at + ends[1] * length


@st.composite
def _figures(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> AirFigures:
    hours = (until_at - from_at) / timedelta(hours=1)
    seen = draw(st.sampled_from([0.0, 0.3, 1.0])) * hours
    spells = draw(st.lists(_spell(from_at, until_at), max_size=20))
    c = [draw(_celsius) for _ in range(6)]
    pct = [draw(_percent) for _ in range(6)]
    return AirFigures(
        hours=hours,
        observed_hours=seen,
        unobserved_hours=hours - seen,
        humidity_observed_hours=seen,
        readings=draw(st.integers(0, 10**7)),
        degree_hours_base_c=draw(_celsius),
        degree_hours_c_h=draw(st.floats(0, 10**6)),
        temperature=TemperatureFigures(
            mean_c=c[0], least_c=c[1], most_c=c[2], p05_c=c[3], p50_c=c[4], p95_c=c[5]
        )
        if seen
        else None,
        humidity=HumidityFigures(
            mean_pct=pct[0],
            least_pct=pct[1],
            most_pct=pct[2],
            p05_pct=pct[3],
            p50_pct=pct[4],
            p95_pct=pct[5],
        )
        if seen and draw(st.booleans())
        else None,
        spells=spells,
        spell_count=len(spells) + draw(st.sampled_from([0, 0, 300])),
    )


@st.composite
def _spell(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> AirSpell:
    begin, end = draw(_within(from_at, until_at))
    what = draw(st.sampled_from(["too_cold", "too_warm", "too_dry", "too_damp"]))
    fields: dict[str, Any] = (
        {"limit_c": draw(_celsius), "worst_c": draw(_celsius)}
        if what in ("too_cold", "too_warm")
        else {"limit_humidity_pct": draw(_percent), "worst_humidity_pct": draw(_percent)}
    )
    return AirSpell(
        what=what,
        room="R2",
        from_at=begin,
        until_at=end,
        minutes=(end - begin) / timedelta(minutes=1),
        **fields,
    )


@st.composite
def _limits(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> RoomLimits:
    begin, end = draw(_within(from_at, until_at))
    return RoomLimits(
        from_at=begin,
        until_at=end,
        least_c=draw(st.none() | _celsius),
        most_c=draw(st.none() | _celsius),
        least_humidity_pct=draw(st.none() | _percent),
        most_humidity_pct=draw(st.none() | _percent),
    )


@st.composite
def _gaps(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> list[UnobservedSpan]:
    spans = draw(st.lists(_within(from_at, until_at), max_size=12))
    return [
        UnobservedSpan(
            why=draw(st.sampled_from(["no_reading", "no_room", "away"])),
            from_at=begin,
            until_at=end,
            hours=(end - begin) / timedelta(hours=1),
        )
        for begin, end in spans
    ]


@st.composite
def _doubts(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> Doubt:
    begin, end = draw(_within(from_at, until_at))
    kind = draw(st.sampled_from(["stuck", "jump", "saturated"]))
    return Doubt(
        sensor="S-1", kind=cast("DoubtKind", kind), from_at=begin, until_at=end, detail=draw(_texts)
    )


@st.composite
def _series(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> list[HourOfAir]:
    step = draw(st.sampled_from([timedelta(hours=1), timedelta(days=1)]))
    many = min(int((until_at - from_at) / step), draw(st.integers(0, 40)))
    return [
        HourOfAir(
            at=from_at + number * step,
            hours=step / timedelta(hours=1),
            mean_c=draw(st.none() | _celsius),
            least_c=draw(_celsius),
            most_c=draw(_celsius),
            mean_humidity_pct=draw(st.none() | _percent),
        )
        for number in range(many)
        if draw(st.integers(0, 9))
    ]


@st.composite
def _stay(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> StayConditions:
    begin, end = draw(_within(from_at, until_at))
    return StayConditions(
        lot="QM26246W0011X",
        site="QM",
        from_at=begin,
        until_at=end,
        figures=draw(_figures(begin, end)),
        room=draw(st.none() | st.sampled_from(["R1", "R2", "R3", "R4", "R5", "R6", "R7", "R8"])),
        room_name=draw(st.none() | _texts),
        still_there=draw(st.booleans()),
    )


@st.composite
def _handling(draw: st.DrawFn, from_at: datetime, until_at: datetime) -> Handling:
    at, _ = draw(_within(from_at, until_at))
    return Handling(
        kind=draw(
            st.sampled_from(
                ["turn", "brush", "rub", "wash", "pierce", "weigh", "iron", "cut", "sale", "smell"]
            )
        ),
        lot="QM26246W0011X",
        at=at,
        age_days=(at - from_at) / timedelta(days=1),
        event_id="019906a0-0000-7000-8000-000000000000",
        mass_g=draw(st.none() | st.integers(1, 10**6)),
        body=draw(st.none() | st.integers(0, 10)),
        grade=draw(st.none() | _texts),
    )
