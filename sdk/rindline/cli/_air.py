"""The commands that ask about sensors, rooms and the air that lots lived in."""

from argparse import Namespace

from rindline._air_operations import ClimateSpan, Series
from rindline.cli._exits import DONE
from rindline.cli._pictures import picture_format, write_file
from rindline.cli._screen import Screen
from rindline.cli._show_climate import show_climate, show_sensors
from rindline.cli._show_conditions import show_conditions
from rindline.cli._show_losses import show_comparison, show_weight_loss
from rindline.client import Client
from rindline_schema.answers import SensorPage

__all__ = ["ask_climate", "ask_comparison", "ask_conditions", "ask_weight_loss", "list_sensors"]


def list_sensors(client: Client, screen: Screen, arguments: Namespace) -> int:
    """List all sensors."""
    page = client.sensors_page(limit=1000)
    sensors = list(page.sensors)
    while page.next_cursor is not None:
        page = client.sensors_page(limit=1000, cursor=page.next_cursor)
        sensors += page.sensors
    if arguments.json:
        screen.json(SensorPage(sensors=sensors, as_of=page.as_of))
    else:
        show_sensors(screen, sensors)
    return DONE


def ask_climate(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Show the air of a room, and draw it into a file if one is named."""
    span = ClimateSpan(
        from_at=arguments.from_at, until_at=arguments.until_at, base_c=arguments.base_c
    )
    if arguments.picture is not None:
        fmt = picture_format(arguments.picture)
        write_file(arguments.picture, client.climate_picture(arguments.room, fmt, **span))
    answer = client.climate(arguments.room, series=_series(arguments), **span)
    if arguments.json:
        screen.json(answer)
    else:
        show_climate(screen, answer, listed=arguments.series != "none")
    return DONE


def ask_conditions(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Show the conditions of a lot, and draw them into a file if one is named."""
    base_c = arguments.base_c
    if arguments.picture is not None:
        fmt = picture_format(arguments.picture)
        picture = client.conditions_picture(arguments.lot, fmt, base_c=base_c)
        write_file(arguments.picture, picture)
    answer = client.conditions(arguments.lot, series=_series(arguments), base_c=base_c)
    if arguments.json:
        screen.json(answer)
    else:
        show_conditions(screen, answer, listed=arguments.series != "none")
    return DONE


def _series(arguments: Namespace) -> Series:
    """Give the series to ask for: a curve is drawn from hours, whether or not they are listed."""
    if arguments.json or arguments.series != "none":
        series: Series = arguments.series
        return series
    return "hours"


def ask_weight_loss(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Show how a wheel, or the wheels of a make, lost weight."""
    answer = client.weight_loss(arguments.lot)
    if arguments.json:
        screen.json(answer)
    else:
        show_weight_loss(screen, answer)
    return DONE


def ask_comparison(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Show makes, rooms or shelves side by side."""
    answer = client.comparison(
        by=arguments.by,
        product=arguments.product,
        made_from=arguments.made_from,
        made_to=arguments.made_to,
        well=arguments.well,
        badly=arguments.badly,
    )
    if arguments.json:
        screen.json(answer)
    else:
        show_comparison(screen, answer)
    return DONE
