"""Answers kept for the next who asks the same while the ledger's head stands still.

A code scanned by a queue of people is one question asked many times. Each answer says for which
``seq`` it holds; it is given again only if that is still the ledger's last, so a kept answer is
never older than a fresh one would be.
"""

import threading
from collections import OrderedDict
from collections.abc import Hashable
from typing import NamedTuple

__all__ = ["Kept", "KeptAnswers"]

_MOST_BYTES = 16 * 1024 * 1024
_LARGEST_BYTES = 64 * 1024


class Kept(NamedTuple):
    """An answer: the ``seq`` it holds for, its body and its entity tag."""

    as_of: int
    body: bytes
    tag: str


class KeptAnswers:
    """The newest answers, up to 16 MiB in all."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: OrderedDict[Hashable, Kept] = OrderedDict()
        self._bytes = 0

    def find(self, question: Hashable) -> Kept | None:
        """Give the answer kept to a question."""
        with self._lock:
            return self._answers.get(question)

    def keep(self, question: Hashable, answer: Kept) -> None:
        """Keep an answer in place of an older one, unless it is large; the oldest make room."""
        if len(answer.body) > _LARGEST_BYTES:
            return
        with self._lock:
            before = self._answers.pop(question, None)
            self._answers[question] = answer
            self._bytes += len(answer.body) - (len(before.body) if before is not None else 0)
            while self._bytes > _MOST_BYTES:
                _, oldest = self._answers.popitem(last=False)
                self._bytes -= len(oldest.body)
