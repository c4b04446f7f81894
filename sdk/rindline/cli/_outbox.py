"""``rindline outbox``: how a station's outbox is doing, and mending what was refused."""

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

import msgspec

from rindline.cli._events_file import read_events
from rindline.cli._exits import DONE, NOT_ANSWERED, REFUSED
from rindline.cli._figures import duration
from rindline.cli._screen import Screen
from rindline.client import Client
from rindline.errors import InvalidInputError
from rindline.outbox import Outbox, OutboxEntry, OutboxStatus

__all__ = ["look_at_outbox"]


def look_at_outbox(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Do what was asked with the file; REFUSED if events are set aside after all."""
    path = Path(arguments.file)
    if not path.is_file():
        # Opening it would make it, and a mistyped name would look like an empty outbox.
        raise InvalidInputError(f"There is no outbox {path}.")
    with Outbox(path, client, drains=False) as outbox:
        match arguments.action:
            case "list":
                return _list(outbox, screen, arguments)
            case "show":
                return _show(outbox, screen, arguments)
            case "retry":
                count = outbox.resend(arguments.id)
                return _done(screen, arguments, {"queued": count}, f"{count} queued again")
            case "mend":
                return _mend(outbox, screen, arguments)
            case "send":
                status = outbox.drain(deadline_s=arguments.timeout)
                code = _status(screen, arguments, status)
                return NOT_ANSWERED if status.queued else code
        return _status(screen, arguments, outbox.status())


def _status(screen: Screen, arguments: Namespace, status: OutboxStatus) -> int:
    if arguments.json:
        screen.json(status)
    else:
        screen.facts(
            [
                ("Outbox", str(status.outbox)),
                ("Queued", str(status.queued)),
                ("Oldest", duration(status.oldest_age_s)),
                ("Set aside", str(status.set_aside)),
                ("Next number", str(status.next_number)),
                ("Not recorded", _ranges(status)),
                ("Sending", "yes" if status.draining else "no process sends now"),
                ("Last sent", status.last_sent_at or "never"),
                ("Paused", status.paused or ""),
                ("Last error", status.last_error or ""),
                ("Error at", status.last_error_at or ""),
                ("Codes error", status.codes_error or ""),
            ]
        )
        rows = [(one.kind, one.site or "", str(one.day), str(one.left)) for one in status.codes]
        screen.table("Codes left to stamp", ("Kind", "Site", "Day", ">Left"), rows)
    return REFUSED if status.set_aside else DONE


def _list(outbox: Outbox, screen: Screen, arguments: Namespace) -> int:
    entries = outbox.entries()
    if arguments.all:
        entries = outbox.entries("queued", "set_aside", "recorded", "mended")
    if arguments.json:
        screen.json(entries)
    else:
        # Few columns: an id must stay whole on a screen of 80.
        columns = (">Number", "Kind", "Id", "What to know")
        screen.table("Events", columns, _rows(entries), none="nothing waits")
    return REFUSED if any(entry.state == "set_aside" for entry in entries) else DONE


def _rows(entries: Sequence[OutboxEntry]) -> list[tuple[str, ...]]:
    return [
        (
            str(entry.number),
            str(entry.event.__struct_config__.tag),
            str(entry.id),
            _know(entry),
        )
        for entry in entries
    ]


def _know(entry: OutboxEntry) -> str:
    state = entry.state.replace("_", " ")
    if entry.mended_by is not None:
        return f"{state}: told anew as {entry.mended_by}"
    if entry.state == "set_aside" and entry.problem is not None:
        problem = entry.problem
        return f"{state}: {problem.code}: {problem.detail} {problem.what_to_do}"
    return state


def _show(outbox: Outbox, screen: Screen, arguments: Namespace) -> int:
    entry = outbox.entry(arguments.id)
    screen.json(entry.event if arguments.event else entry)
    return DONE


def _mend(outbox: Outbox, screen: Screen, arguments: Namespace) -> int:
    events = read_events(arguments.event_file)
    if len(events) != 1:
        raise InvalidInputError(f"{arguments.event_file} holds {len(events)} events: give one.")
    queued = outbox.mend(arguments.id, events[0])
    said = f"queued under the new id {queued.id}, number {queued.number}"
    return _done(screen, arguments, msgspec.to_builtins(queued), said)


def _done(screen: Screen, arguments: Namespace, answer: object, said: str) -> int:
    if arguments.json:
        screen.json(answer)
    else:
        screen.line(said)
    return DONE


def _ranges(status: OutboxStatus) -> str:
    shown = [
        str(one.first) if one.first == one.last else f"{one.first}-{one.last}"
        for one in status.waiting[:20]
    ]
    return ", ".join(shown) + (" ..." if len(status.waiting) > len(shown) else "")
