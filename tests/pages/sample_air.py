"""Pieces of air for samples: an hour or day, a spell beyond a limit, the figures of a time."""

import math
from datetime import datetime, timedelta

from rindline_schema.answers import (
    AirFigures,
    AirSpell,
    HourOfAir,
    HumidityFigures,
    OutsideMinutes,
    TemperatureFigures,
)

__all__ = ["figures_of", "hour_of", "spell_of"]


def hour_of(
    at: datetime, mean_c: float, mean_pct: float, hours: float, wide: float = 0.3
) -> HourOfAir:
    return HourOfAir(
        at=at,
        hours=hours,
        mean_c=mean_c,
        least_c=mean_c - wide,
        most_c=mean_c + wide,
        mean_humidity_pct=mean_pct,
        least_humidity_pct=mean_pct - 4 * wide,
        most_humidity_pct=min(mean_pct + 3 * wide, 100),
        observed_minutes=hours * 60,
    )


def spell_of(
    what: str, room: str, ends: tuple[datetime, datetime], limit: float, worst: float
) -> AirSpell:
    of_c = what in ("too_cold", "too_warm")
    return AirSpell(
        what=what,
        room=room,
        from_at=ends[0],
        until_at=ends[1],
        minutes=(ends[1] - ends[0]) / timedelta(minutes=1),
        limit_c=limit if of_c else None,
        worst_c=worst if of_c else None,
        limit_humidity_pct=None if of_c else limit,
        worst_humidity_pct=None if of_c else worst,
    )


def figures_of(
    hours: float, unobserved: float, mean_c: float, mean_pct: float, spells: list[AirSpell]
) -> AirFigures:
    seen = hours - unobserved
    minutes = {
        f"{what}_minutes": math.fsum(one.minutes for one in spells if one.what == what)
        for what in ("too_cold", "too_warm", "too_dry", "too_damp")
    }
    if seen <= 0:
        return AirFigures(
            hours=hours,
            observed_hours=0,
            unobserved_hours=hours,
            humidity_observed_hours=0,
            readings=0,
            degree_hours_base_c=8,
        )
    return AirFigures(
        hours=hours,
        observed_hours=seen,
        unobserved_hours=unobserved,
        humidity_observed_hours=seen,
        readings=round(seen * 24),
        degree_hours_base_c=8,
        degree_hours_c_h=max(mean_c - 8, 0) * seen,
        doubtful_hours=60 if spells else 0,
        temperature=TemperatureFigures(
            mean_c=mean_c,
            least_c=mean_c - 0.9,
            most_c=mean_c + 5.4,
            p05_c=mean_c - 0.6,
            p50_c=mean_c,
            p95_c=mean_c + 0.9,
        ),
        humidity=HumidityFigures(
            mean_pct=mean_pct,
            least_pct=mean_pct - 15.2,
            most_pct=min(mean_pct + 4, 100),
            p05_pct=mean_pct - 3,
            p50_pct=mean_pct,
            p95_pct=min(mean_pct + 3, 100),
        ),
        dew_point_mean_c=mean_c - 1.1,
        vapour_pressure_deficit_mean_kpa=0.088,
        vapour_pressure_deficit_kpa_h=0.088 * seen,
        mean_kinetic_temperature_c=mean_c + 0.2,
        outside=OutsideMinutes(**minutes),
        spells=spells,
        spell_count=len(spells),
    )
