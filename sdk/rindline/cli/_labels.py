"""``rindline label`` and ``rindline registers``."""

from argparse import Namespace

from rindline.cli._exits import DONE
from rindline.cli._label_facts import label_facts
from rindline.cli._pictures import picture_format, write_file
from rindline.cli._screen import Screen
from rindline.client import Client
from rindline.errors import InvalidInputError
from rindline.labels import (
    LABEL_SIZES,
    LabelContent,
    LabelFormat,
    RegisterCache,
    make_label,
    print_label,
    render_label,
)

__all__ = ["fetch_registers", "label"]


def fetch_registers(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Keep the registers in a file, for labels without a network."""
    cache = RegisterCache(arguments.registers)
    count = cache.fetch(client)
    screen.line(f"{count} sites, products and partners are kept in {cache.file}")
    return DONE


def label(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Make a label: into a file, to a printer, or as JSON; tell a reprint before it is printed."""
    registers = RegisterCache(arguments.registers)
    if registers.fetched_at is None:
        registers.fetch(client)
    facts = label_facts(client, arguments, registers)
    try:
        content = make_label(
            facts,
            form="short" if arguments.short_date else "day",
            link_base=arguments.link_base,
        )
    except ValueError as error:
        raise InvalidInputError(f"{error}.") from error
    if arguments.json:
        screen.json(content)
    if arguments.out is None and arguments.printer is None:
        if not arguments.json:
            raise InvalidInputError("Say where the label goes: --out FILE or --printer NAME.")
        return DONE
    _put_out(client, screen, arguments, content)
    return DONE


def _put_out(client: Client, screen: Screen, arguments: Namespace, content: LabelContent) -> None:
    size = LABEL_SIZES[arguments.size or ("100x150" if content.kind == "case" else "62x40")]
    fmt: LabelFormat = "pdf" if arguments.out is None else picture_format(arguments.out)
    data = render_label(content, size, fmt, dots_per_mm=arguments.dots)
    if arguments.reprint is not None:
        # Told first: a label that nobody knows of is worse than a printing that failed.
        is_case = content.kind == "case"
        client.label(
            kind=content.kind,
            lot=None if is_case else content.code,
            case=content.code if is_case else None,
            copies=arguments.copies,
            reason=arguments.reprint,
        )
    if arguments.out is not None:
        write_file(arguments.out, data)
    else:
        # A single hyphen stands for the system's default printer.
        printer = None if arguments.printer == "-" else arguments.printer
        said = print_label(
            data, fmt, size, printer=printer, copies=arguments.copies, title=content.code
        )
        if not arguments.json:
            screen.line(said)
