"""How figures and times are written for people."""

from datetime import datetime
from decimal import ROUND_FLOOR, Decimal

__all__ = [
    "duration",
    "kilograms",
    "local_time",
    "percent_at_least",
    "plain_figure",
    "share",
    "words",
]


def duration(seconds: float | None) -> str:
    """Write how long something took or waits; nothing if not known."""
    if seconds is None:
        return ""
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min {rest} s"


def kilograms(mass_g: int) -> str:
    """Write grams as kg with three decimals, exactly."""
    whole, rest = divmod(abs(mass_g), 1000)
    return f"{'-' if mass_g < 0 else ''}{whole}.{rest:03d}"


def local_time(moment: datetime | None) -> str:
    """Write a time in the machine's zone with its offset from UTC; nothing if not known."""
    if moment is None:
        return ""
    return moment.astimezone().isoformat(" ", "minutes")


def percent_at_least(percent: float) -> str:
    """Write a percentage with two decimals, rounded down: 99.998 is not yet 100.00."""
    return str(Decimal(repr(percent)).quantize(Decimal("0.01"), ROUND_FLOOR))


def plain_figure(value: float | None, decimals: int) -> str:
    """Write a figure with at most so many decimals; nothing if there is none."""
    if value is None:
        return ""
    # Adding zero takes the sign from a zero.
    text = f"{round(value, decimals) + 0.0:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def share(share_ppm: int) -> str:
    """Write parts per million as % with four decimals, exactly."""
    return f"{share_ppm // 10_000}.{share_ppm % 10_000:04d}"


def words(name: str) -> str:
    """Write a name of the contract (``with_partners``) in words."""
    return name.replace("_", " ")
