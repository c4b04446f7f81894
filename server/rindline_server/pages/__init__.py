"""What people look at: pictures of the air, drawn from the contract's answers."""

from rindline_server.pages.climate import climate_svg
from rindline_server.pages.conditions import conditions_pages, conditions_svg
from rindline_server.pages.files import PictureError, PictureFormat, picture_file
from rindline_server.pages.look import CARD, PAPER, SCREEN, Look

__all__ = [
    "CARD",
    "PAPER",
    "SCREEN",
    "Look",
    "PictureError",
    "PictureFormat",
    "climate_svg",
    "conditions_pages",
    "conditions_svg",
    "picture_file",
]
