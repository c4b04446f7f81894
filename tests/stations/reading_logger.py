"""A logger's script, to be killed: puts readings into an outbox, writes down which are kept.

Arguments: the outbox's file, the file of minutes that are kept, the first minute.
"""

import os
import sys

from rindline.outbox import ReadingOutbox
from tests.stations.reading_parts import some_readings

__all__: list[str] = []

_HEAP = 7


def main() -> None:
    """Read for ever, one by one and in heaps."""
    path, kept, first = sys.argv[1:]
    # Unbuffered and appended in one go: what is written stays so when the process is killed.
    paper = os.open(kept, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    minute = int(first)
    outbox = ReadingOutbox(path)
    while True:
        heap = some_readings(1 if minute % 2 else _HEAP, minute)
        outbox.many(heap)
        minute += len(heap)
        os.write(paper, f"{minute}\n".encode())


if __name__ == "__main__":
    main()
