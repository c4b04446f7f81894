"""How a rule says no: with a problem of the catalogue."""

from typing import Any

from rindline_schema.problems import Problem, make_problem

__all__ = ["RefusalError", "refuse"]


class RefusalError(Exception):
    """An event can't be recorded; ``problem`` says why and what to do."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.detail)
        self.problem = problem


def refuse(code: str, detail: str, **members: Any) -> RefusalError:
    """Build the refusal with this problem code; members as in ``Problem``."""
    return RefusalError(make_problem(code, detail, **members))
