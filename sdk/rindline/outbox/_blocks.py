"""Blocks of lot codes in an outbox: reserved ahead, stamped without a network, accounted for."""

from datetime import date, timedelta
from uuid import UUID

from rindline._clock import Clock
from rindline._making import new_id
from rindline.errors import InvalidInputError, NoCodesError, UnexpectedAnswerError
from rindline.outbox._entries import CodesLeft
from rindline.outbox._file import OutboxFile
from rindline_schema.answers import BlockUse, CodeBlock, CodeBlockRequest
from rindline_schema.answers.stations import MAX_BLOCK_CODES
from rindline_schema.codes import lot_code, lot_code_prefix, split_lot_code
from rindline_schema.registers import LotKind

__all__ = ["Blocks"]

# A block stays open for codes of days gone by, in case the label comes late or the clock is wrong.
_DAYS_KEPT = 2
# More is reserved when less than this part of what is wanted is left.
_LOW = 2
# Under a few prefixes every second serial has no code, and elsewhere one in fifty.
_MOST_SERIALS = 3 * MAX_BLOCK_CODES


class Blocks:
    """The blocks of one file. A code is marked stamped on disk before it is given out."""

    def __init__(self, file: OutboxFile, clock: Clock) -> None:
        self._file = file
        self._clock = clock

    def want(self, kind: LotKind, site: str | None, reserve: int, days: int) -> None:
        """Keep ``reserve`` codes ready for each of the next ``days`` days, today's included."""
        row = kind, site or "", reserve, days
        if row not in self._file.rows("SELECT kind, site, reserve, days FROM wanted_codes"):
            with self._file.transaction() as connection:
                connection.execute("INSERT OR REPLACE INTO wanted_codes VALUES (?, ?, ?, ?)", row)

    def stamp(self, kind: LotKind, site: str | None, day: date | None) -> str:
        """Take the next code of a day; raises :class:`NoCodesError` if none is reserved."""
        day = day or self._clock.now().date()
        with self._file.transaction() as connection:
            rows = connection.execute(
                "SELECT id, prefix, first_serial, last_serial, stamped_to, codes_left FROM blocks"
                " WHERE kind = ? AND site = ? AND day = ? AND closed = 0 AND codes_left > 0"
                " ORDER BY first_serial LIMIT 1",
                (kind, site or "", day.isoformat()),
            ).fetchall()
            if not rows:
                raise NoCodesError(
                    f"No reserved code of a {kind} of {day} is left: the outbox reserves more as "
                    "soon as it reaches the server."
                )
            block, prefix, first, last, stamped_to, left = rows[0]
            serial, code = _next_code(prefix, max(first, stamped_to + 1), last)
            connection.execute(
                "UPDATE blocks SET stamped_to = ?, codes_left = ? WHERE id = ?",
                (serial, left - 1, block),
            )
        return code

    def spoil(self, code: str) -> None:
        """Say that a stamped code's label was thrown away and stands on no lot."""
        prefix, serial = split_lot_code(code)
        with self._file.transaction() as connection:
            rows = connection.execute(
                "SELECT id FROM blocks WHERE prefix = ? AND ? BETWEEN first_serial AND stamped_to",
                (prefix, serial),
            ).fetchall()
            if not rows or lot_code(prefix, serial) != code:
                raise InvalidInputError(f"{code} was not stamped from this outbox.")
            connection.execute("INSERT OR IGNORE INTO spoiled VALUES (?, ?)", (rows[0][0], serial))

    def left(self) -> list[CodesLeft]:
        """Give how many codes of each kind and day are left to stamp."""
        rows = self._file.rows(
            "SELECT kind, site, day, sum(codes_left) FROM blocks WHERE closed = 0"
            " GROUP BY kind, site, day ORDER BY kind, site, day"
        )
        return [
            CodesLeft(kind=kind, day=date.fromisoformat(day), left=left, site=site or None)
            for kind, site, day, left in rows
        ]

    def left_of(self, kind: LotKind, site: str | None, day: date | None) -> int:
        """Give how many codes of one kind and day (today, if None) are left to stamp."""
        wanted = kind, site, day or self._clock.now().date()
        return sum(one.left for one in self.left() if (one.kind, one.site, one.day) == wanted)

    # --- reserving ----------------------------------------------------------------------------

    def next_request(self) -> CodeBlockRequest | None:
        """Give what to reserve next; its id is on disk, so that asking again reserves no more."""
        found = self._asked()
        if found is None:
            missing = self._missing()
            if missing is None:
                return None
            name = str(new_id(self._clock))
            with self._file.transaction() as connection:
                connection.execute(
                    "INSERT INTO asked_blocks VALUES (?, ?, ?, ?, ?)", (name, *missing)
                )
            found = self._asked()
        return found

    def take(self, asked: CodeBlockRequest, block: CodeBlock) -> None:
        """Keep a reserved block; raises :class:`UnexpectedAnswerError` if it is not what we asked.

        A block that overlaps one we have is refused: two labels would get the same code.
        """
        if (
            block.id != asked.id
            or block.prefix != lot_code_prefix(block.site, asked.day, asked.kind)
            or asked.site not in (None, block.site)
            or not 1 <= block.first_serial <= block.last_serial
            or block.last_serial - block.first_serial >= _MOST_SERIALS
            or _codes_in(block) != block.codes
        ):
            raise UnexpectedAnswerError(f"The block of codes {asked.id} is not what was asked for.")
        with self._file.transaction() as connection:
            if connection.execute(
                "SELECT id FROM blocks WHERE prefix = ? AND first_serial <= ? AND last_serial >= ?",
                (block.prefix, block.last_serial, block.first_serial),
            ).fetchall():
                raise UnexpectedAnswerError(f"The block of codes {asked.id} was given out before.")
            connection.execute(
                "INSERT INTO blocks (id, kind, site, day, prefix, first_serial, last_serial,"
                " codes_left, stamped_to, closed, told) VALUES (?, ?, ?, ?, ?, ?, ?, ?, 0, 0, '')",
                (
                    *(str(block.id), asked.kind, asked.site or "", asked.day.isoformat()),
                    *(block.prefix, block.first_serial, block.last_serial, block.codes),
                ),
            )
            connection.execute("DELETE FROM asked_blocks WHERE id = ?", (str(asked.id),))

    def _asked(self) -> CodeBlockRequest | None:
        rows = self._file.rows(
            "SELECT id, kind, site, day, count FROM asked_blocks ORDER BY day, id LIMIT 1"
        )
        if not rows:
            return None
        name, kind, site, day, count = rows[0]
        return CodeBlockRequest(
            id=UUID(name),
            kind=kind,
            site=site or None,
            day=date.fromisoformat(day),
            count=count,
        )

    def _missing(self) -> tuple[str, str, str, int] | None:
        today = self._clock.now().date()
        left = {(one.kind, one.site or "", one.day): one.left for one in self.left()}
        wanted = self._file.rows(
            "SELECT kind, site, reserve, days FROM wanted_codes ORDER BY kind, site"
        )
        for kind, site, reserve, days in wanted:
            for ahead in range(days):
                day = today + timedelta(days=ahead)
                there = left.get((kind, site, day), 0)
                if there * _LOW < reserve:
                    return kind, site, day.isoformat(), reserve - there
        return None

    # --- accounting ---------------------------------------------------------------------------

    def news(self) -> list[BlockUse]:
        """Close blocks of days long past, and give what the server has not yet been told."""
        oldest = (self._clock.now().date() - timedelta(days=_DAYS_KEPT)).isoformat()
        if self._file.rows("SELECT 1 FROM blocks WHERE closed = 0 AND day < ?", (oldest,)):
            with self._file.transaction() as connection:
                connection.execute("UPDATE blocks SET closed = 1 WHERE day < ?", (oldest,))
        rows = self._file.rows(
            "SELECT id, stamped_to, closed, told FROM blocks"
            " WHERE told <> stamped_to || ' ' || closed || ' ' ||"
            " (SELECT count(*) FROM spoiled WHERE block = blocks.id) ORDER BY id LIMIT 1000"
        )
        return [
            BlockUse(
                block=UUID(name),
                stamped_to=stamped_to,
                spoiled=self._spoiled(name),
                closed=bool(closed),
            )
            for name, stamped_to, closed, _told in rows
        ]

    def told(self, uses: list[BlockUse]) -> None:
        """Remember what the server has been told."""
        if uses:
            with self._file.transaction() as connection:
                for use in uses:
                    connection.execute(
                        "UPDATE blocks SET told = ? WHERE id = ?", (_mark(use), str(use.block))
                    )

    def _spoiled(self, block: str) -> list[int]:
        rows = self._file.rows(
            "SELECT serial FROM spoiled WHERE block = ? ORDER BY serial", (block,)
        )
        return [serial for (serial,) in rows]


def _mark(use: BlockUse) -> str:
    return f"{use.stamped_to} {int(use.closed)} {len(use.spoiled)}"


def _next_code(prefix: str, serial: int, last: int) -> tuple[int, str]:
    """Give the next serial that has a code: those that are not proof against a swap have none."""
    while serial <= last:
        code = lot_code(prefix, serial)
        if code is not None:
            return serial, code
        serial += 1
    raise NoCodesError(f"The block {prefix} ends at {last} with fewer codes than were promised.")


def _codes_in(block: CodeBlock) -> int:
    serials = range(block.first_serial, block.last_serial + 1)
    return sum(lot_code(block.prefix, serial) is not None for serial in serials)
