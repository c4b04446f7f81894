"""For your own tests: a server that lives in memory, and a clock that never waits.

``Client(transport=FakeServer(), clock=FakeClock())`` tells and asks as against a real server; no
network, no waiting. :class:`FakeServer` says what it judges and what it does not.
"""

from rindline.testing._clock import FakeClock
from rindline.testing._server import FakeServer

__all__ = ["FakeClock", "FakeServer"]
