"""How a use case says no: with a problem of the catalogue, for HTTP to pass on."""

from typing import Any

from rindline_schema.problems import Problem, make_problem

__all__ = ["ProblemError", "no_such_thing", "problem_error"]


class ProblemError(Exception):
    """The request can't be answered as asked; ``problem`` says why and what to do."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.detail)
        self.problem = problem


def problem_error(code: str, detail: str, **members: Any) -> ProblemError:
    """Build the error with this problem code; members as in ``Problem``."""
    return ProblemError(make_problem(code, detail, **members))


def no_such_thing(what: str) -> ProblemError:
    """Build the error for a thing that isn't there, or that this caller may not see."""
    return problem_error("not_found", f"there is no {what}")
