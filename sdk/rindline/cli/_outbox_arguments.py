"""What ``rindline outbox`` takes."""

import argparse
from uuid import UUID

__all__ = ["add_outbox"]


def add_outbox(parser: argparse.ArgumentParser) -> None:
    """Add the file and what to do with it."""
    parser.add_argument("file", metavar="FILE", help="the outbox's file")
    actions = parser.add_subparsers(dest="action", metavar="ACTION")

    def action(name: str, summary: str) -> argparse.ArgumentParser:
        return actions.add_parser(name, help=summary, description=summary, allow_abbrev=False)

    listing = action("list", "list what is queued or set aside")
    listing.add_argument("--all", action="store_true", help="also the last that were recorded")
    show = action("show", "show one event as JSON, with the server's answer")
    show.add_argument("id", metavar="ID", type=_id, help="an event's id")
    show.add_argument("--event", action="store_true", help="the event alone, to be mended")
    retry = action("retry", "queue what is set aside again, unchanged")
    retry.add_argument("id", metavar="ID", type=_id, nargs="?", help="only this event")
    mend = action("mend", "queue a mended event, under a new id, in the stead of one set aside")
    mend.add_argument("id", metavar="ID", type=_id, help="the id of the event set aside")
    mend.add_argument("event_file", metavar="EVENT", help="a file with the event; - reads input")
    action("send", "send what is queued, here and now")


def _id(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is not an event's id") from error
