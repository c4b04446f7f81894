"""What a logger exported, read by a mapping that the user states: which column holds what.

Nothing is guessed and nothing is lost: each line with something on it becomes a reading or a
:class:`BadRow` that says why not.
"""

from rindline.logger_files._mapping import FileMapping
from rindline.logger_files._reading import BadRow, FileRead, GoodRow, decode_file, read_file

__all__ = ["BadRow", "FileMapping", "FileRead", "GoodRow", "decode_file", "read_file"]
