"""Twelve weeks of an invented dairy: its story as events, and the telling of it to a server.

The story is pure: the same events every time. Only :mod:`.telling` speaks to a server, through
the SDK like any station.
"""

from rindline_server.demo.scale import SMALL, WHOLE, Scale
from rindline_server.demo.story import Story, write_story

__all__ = ["SMALL", "WHOLE", "Scale", "Story", "write_story"]
