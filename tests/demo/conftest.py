"""The story, and what the pure rules make of it."""

import os
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from rindline_schema.answers import Warned
from rindline_schema.problems import Problem
from rindline_server.demo import SMALL, WHOLE, Story, write_story
from rindline_server.ledger.apply import Context, RefusalError, apply
from rindline_server.ledger.world import World

# The first of January 2026: long after the story, and long before anybody runs these tests.
_NOW_US = 1_767_225_600_000_000


class Folded(NamedTuple):
    """A story, the world after it, and what was refused or warned of on the way."""

    story: Story
    world: World
    refused: list[Problem]
    warned: list[Warned]


def fold_story(story: Story) -> Folded:
    """Apply every event in the order in which it is told."""
    world = World()
    world.is_everything = True
    refused: list[Problem] = []
    warned: list[Warned] = []
    for event in story.events:
        try:
            warned += apply(world, event, Context(now_us=_NOW_US)).warnings
        except RefusalError as error:
            refused.append(error.problem)
    return Folded(story, world, refused, warned)


@pytest.fixture(scope="session")
def whole() -> Folded:
    """The whole story."""
    return fold_story(write_story(WHOLE))


@pytest.fixture(scope="session")
def small() -> Folded:
    """The small one."""
    return fold_story(write_story(SMALL))


@pytest.fixture(params=["whole", "small"])
def told(request: pytest.FixtureRequest) -> Folded:
    """Either."""
    folded: Folded = request.getfixturevalue(request.param)
    return folded


DEMO = [sys.executable, "-m", "rindline_server.cli", "demo", "--small", "--port", "0"]
"""The command that tells the small story to a server at a free port."""


class Ran(NamedTuple):
    """The command run once, without a terminal: what it printed, and the database it kept."""

    process: "subprocess.CompletedProcess[str]"
    database: Path


@pytest.fixture(scope="session")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """Run the small demo, once for all tests of what it leaves."""
    database = tmp_path_factory.mktemp("demo") / "new" / "demo.db"
    process = subprocess.run(
        [*DEMO, "--database", str(database)],
        stdin=subprocess.DEVNULL,
        # Wide, so that no line is folded.
        env={**os.environ, "COLUMNS": "240"},
        capture_output=True,
        text=True,
        check=False,
        timeout=240,
    )
    assert process.returncode == 0, process.stderr
    return Ran(process, database)
