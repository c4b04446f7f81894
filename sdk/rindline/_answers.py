"""Reading answers: a response value into the typed answer, or into the error it stands for."""

from collections.abc import Iterator
from typing import TypeVar

import msgspec

from rindline._wire import Response
from rindline.errors import CutShortError, ProblemError, UnexpectedAnswerError, problem_error
from rindline_schema.answers import EdgeLine, EndLine, HeadLine, Health, LotLine, TraceLine
from rindline_schema.problems import Problem

__all__ = ["LineReader", "parse_answer", "parse_health", "read_problem", "refuse_unless_ok"]

T = TypeVar("T")

_problem_decoder = msgspec.json.Decoder(Problem)


def read_problem(response: Response) -> Problem | None:
    """Give the problem details of a response, or None if it carries none."""
    try:
        return _problem_decoder.decode(response.body)
    except msgspec.MsgspecError:
        return None


def _error(response: Response) -> ProblemError | UnexpectedAnswerError:
    problem = read_problem(response)
    if problem is not None:
        return problem_error(problem)
    where = f"HTTP {response.status} without problem details"
    if response.status < 400:
        return UnexpectedAnswerError(f"{where}: check the server's address.")
    return problem_error(
        Problem(
            type="about:blank",
            title=f"HTTP {response.status}",
            status=response.status,
            code=f"http_{response.status}",
            detail="something between here and the server answered, not the server itself",
            retryable=response.status >= 500,
            what_to_do="Check the server's address and what stands in between.",
            request_id=response.headers.get("x-request-id"),
        )
    )


def _decode(body: bytes, answer: type[T]) -> T:
    try:
        return msgspec.json.decode(body, type=answer)
    except msgspec.MsgspecError as error:
        raise UnexpectedAnswerError(
            f"The answer is not a {answer.__name__} ({error}): check the server's address, and "
            "that server and SDK are of versions that fit."
        ) from error


def parse_answer(response: Response, answer: type[T]) -> T:
    """Read a successful response; raises :class:`ProblemError` for any other."""
    if not response.ok:
        raise _error(response)
    return _decode(response.body, answer)


def parse_health(response: Response) -> Health:
    """Read a health answer: not being ready is an answer too, though its status is 503."""
    if not response.ok and read_problem(response) is None and response.status == 503:
        return _decode(response.body, Health)
    return parse_answer(response, Health)


class LineReader:
    """Reads the NDJSON lines of a streamed trace from chunks, and proves that it is whole."""

    def __init__(self) -> None:
        self._decoder: msgspec.json.Decoder[TraceLine] = msgspec.json.Decoder(TraceLine)
        self._rest = b""
        self._lots = 0
        self._edges = 0
        self._end: EndLine | None = None

    def read(self, chunk: bytes) -> Iterator[TraceLine]:
        """Give the lines that are complete with this chunk."""
        head, newline, tail = chunk.rpartition(b"\n")
        if not newline:
            self._rest += chunk
            return
        whole, self._rest = self._rest + head, tail
        try:
            lines = self._decoder.decode_lines(whole)
        except msgspec.MsgspecError as error:
            raise UnexpectedAnswerError(f"A line of the trace cannot be read: {error}") from error
        for line in lines:
            self._count(line)
            yield line

    def finish(self) -> None:
        """Raise :class:`CutShortError` unless the end line came and its counts fit."""
        if self._end is None or self._rest.strip():
            raise CutShortError(
                "The trace was cut short: its end line is missing. Ask for it again."
            )
        if (self._end.lots, self._end.edges) != (self._lots, self._edges):
            raise CutShortError(
                f"The trace lost lines: {self._end.lots} lots and {self._end.edges} edges were "
                f"announced, {self._lots} and {self._edges} came. Ask for it again."
            )

    def _count(self, line: TraceLine) -> None:
        if self._end is not None:
            raise UnexpectedAnswerError("The trace goes on after its end line.")
        match line:
            case LotLine():
                self._lots += 1
            case EdgeLine():
                self._edges += 1
            case EndLine():
                self._end = line
            case HeadLine():
                pass


def refuse_unless_ok(response: Response) -> None:
    """Raise the error a response stands for, if it is not a successful one."""
    if not response.ok:
        raise _error(response)
