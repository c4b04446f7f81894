"""Where the story is written down: events with ids and lot codes that are the same every time."""

import random
from collections.abc import Sequence
from datetime import datetime
from hashlib import blake2b
from typing import TypeVar
from uuid import UUID

from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.events import Event
from rindline_schema.gs1 import sscc
from rindline_schema.uuid7 import uuid7
from rindline_server.demo.dates import unix_ms
from rindline_server.demo.registers import COMPANY_PREFIX

__all__ = ["Dice", "Journal"]

T = TypeVar("T")


class Dice:
    """Chance from a seed. It only uses what Python promises to be the same in every version."""

    def __init__(self, seed: str) -> None:
        """Start the series that belongs to a seed."""
        self._random = random.Random(seed)

    def between(self, least: int, most: int) -> int:
        """Give a whole number, both ends included."""
        return least + int(self._random.random() * (most - least + 1))

    def spread(self, middle: float, reach: float) -> float:
        """Give a number near the middle, never further from it than ``reach``."""
        return middle + (sum(self._random.random() for _ in range(3)) / 1.5 - 1) * reach

    def pick(self, items: Sequence[T], count: int) -> list[T]:
        """Give so many different items, in their order."""
        left = list(range(len(items)))
        chosen = [left.pop(self.between(0, len(left) - 1)) for _ in range(min(count, len(left)))]
        return [items[i] for i in sorted(chosen)]


class Journal:
    """All events so far, and the numbers that run on: ids, lot codes, cases, documents."""

    def __init__(self, seed: str) -> None:
        """Open an empty journal."""
        self.dice = Dice(seed)
        self.events: list[Event] = []
        self._seed = seed
        self._ids = 0
        self._serials: dict[str, int] = {}
        self._numbers: dict[str, int] = {}

    def add(self, event: Event) -> None:
        """Write an event down."""
        self.events.append(event)

    def new_id(self, moment: datetime) -> UUID:
        """Give the id of an event that happens at a time."""
        self._ids += 1
        chance = blake2b(f"{self._seed} {self._ids}".encode(), digest_size=10).digest()
        return uuid7(unix_ms(moment), chance)

    def new_lot(self, site: str, moment: datetime, kind: str) -> str:
        """Stamp a lot code, as a station does from its block of serials."""
        prefix = lot_code_prefix(site, moment.date(), kind)
        code = None
        while code is None:
            self._serials[prefix] = self._serials.get(prefix, 0) + 1
            code = lot_code(prefix, self._serials[prefix])
        return code

    def new_number(self, prefix: str) -> str:
        """Give the next number of a series of documents, such as ``DN-0001``."""
        self._numbers[prefix] = self._numbers.get(prefix, 0) + 1
        return f"{prefix}-{self._numbers[prefix]:04d}"

    def new_case(self) -> str:
        """Give the SSCC of the next case."""
        self._numbers["case"] = self._numbers.get("case", 0) + 1
        return sscc(3, COMPANY_PREFIX, self._numbers["case"])
