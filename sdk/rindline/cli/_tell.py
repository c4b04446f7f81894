"""Telling the events of a file: progress, a table of outcomes, an exit code."""

from argparse import Namespace
from collections.abc import Sequence

from rindline.cli._events_file import read_events
from rindline.cli._exits import DONE, REFUSED
from rindline.cli._screen import Screen
from rindline.client import Client
from rindline_schema.answers import BatchAnswer, DryRunAnswer, Outcome, Refused
from rindline_schema.events import Event

__all__ = ["tell_file"]

# Up to so many outcomes are all shown; of more, those that a person must look at.
_ALL_SHOWN = 40


def tell_file(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Tell (or try) a file's events; REFUSED if any of them is refused."""
    events = read_events(arguments.file)
    if arguments.dry_run:
        outcomes = client.try_events(events)
    else:
        with screen.progress() as progress:
            task = progress.add_task("Telling", total=len(events))
            outcomes = client.tell_many(
                events,
                all_or_nothing=arguments.all_or_nothing,
                progress=lambda told: progress.update(task, completed=told),
            )
    refused = sum(isinstance(outcome, Refused) for outcome in outcomes)
    replayed = sum(not isinstance(outcome, Refused) and outcome.replay for outcome in outcomes)
    recorded = len(outcomes) - refused - replayed
    if not arguments.json:
        _show(screen, events, outcomes)
        would = "would be recorded" if arguments.dry_run else "recorded"
        screen.line(f"{recorded} {would}, {replayed} recorded before, {refused} refused")
    elif arguments.dry_run:
        screen.json(DryRunAnswer(outcomes=outcomes))
    else:
        screen.json(
            BatchAnswer(outcomes=outcomes, recorded=recorded, refused=refused, replayed=replayed)
        )
    return REFUSED if refused else DONE


def _show(screen: Screen, events: Sequence[Event], outcomes: Sequence[Outcome]) -> None:
    everything = len(outcomes) <= _ALL_SHOWN
    rows = [
        (str(number), _kind(event), str(event.id), *_said(outcome))
        for number, (event, outcome) in enumerate(zip(events, outcomes, strict=True), 1)
        if everything or isinstance(outcome, Refused) or outcome.warnings
    ]
    columns = (">Event", "Kind", "Id", "Outcome", ">Number", "What to know")
    title = "Outcomes" if everything else "Outcomes to look at"
    screen.table(title, columns, rows, none="nothing to look at")


def _kind(event: Event) -> str:
    return str(event.__struct_config__.tag)


def _said(outcome: Outcome) -> tuple[str, str, str]:
    if isinstance(outcome, Refused):
        problem = outcome.problem
        return f"refused: {problem.code}", "", f"{problem.detail} {problem.what_to_do}"
    notes = [f"{warned.code}: {warned.detail}" for warned in outcome.warnings]
    notes += [f"{given.pointer} is {given.lot}" for given in outcome.lots]
    word = "recorded before" if outcome.replay else "recorded"
    return word, str(outcome.seq), "; ".join(notes)
