"""What each command asks and shows; each gives its exit code."""

from argparse import Namespace
from collections.abc import Callable
from typing import Any

from rindline.cli._air import (
    ask_climate,
    ask_comparison,
    ask_conditions,
    ask_weight_loss,
    list_sensors,
)
from rindline.cli._exits import DONE
from rindline.cli._figures import local_time
from rindline.cli._labels import fetch_registers, label
from rindline.cli._outbox import look_at_outbox
from rindline.cli._packs import check_packs_file
from rindline.cli._readings import handle_readings
from rindline.cli._screen import Screen
from rindline.cli._show_drills import show_drill, show_drills
from rindline.cli._show_lots import (
    show_discrepancies,
    show_lot,
    show_lots,
    show_origin,
    show_trace,
)
from rindline.cli._stamp import stamp_pieces
from rindline.cli._tell import tell_file
from rindline.cli._weigh import weigh_lots
from rindline.client import Client
from rindline_schema.answers import DiscrepancyPage, DrillPage, LotPage

__all__ = ["COMMANDS"]

_MOST_A_PAGE = 1000


def _origin(client: Client, screen: Screen, arguments: Namespace) -> int:
    answer = client.origin(arguments.lot)
    return _print(screen, arguments, answer, lambda: show_origin(screen, answer))


def _trace(client: Client, screen: Screen, arguments: Namespace) -> int:
    answer = client.trace(arguments.lot, arguments.direction, as_of=arguments.as_of)
    return _print(
        screen, arguments, answer, lambda: show_trace(screen, answer, edges=arguments.edges)
    )


def _drill(client: Client, screen: Screen, arguments: Namespace) -> int:
    answer = client.start_drill(
        arguments.lots,
        direction=arguments.direction,
        purpose="live" if arguments.live else "drill",
        reason=arguments.reason,
    )
    return _print(screen, arguments, answer, lambda: show_drill(screen, answer))


def _drills(client: Client, screen: Screen, arguments: Namespace) -> int:
    if arguments.drill is not None:
        one = client.drill(arguments.drill)
        return _print(screen, arguments, one, lambda: show_drill(screen, one))
    pages = _pages(
        lambda limit, cursor: client.drills_page(limit=limit, cursor=cursor),
        lambda page: page.drills,
        arguments.limit,
    )
    answer = DrillPage(
        drills=[drill for page in pages for drill in page.drills],
        next_cursor=pages[-1].next_cursor,
    )
    code = _print(screen, arguments, answer, lambda: show_drills(screen, answer.drills))
    return _more(screen, arguments, answer.next_cursor, code)


def _lots(client: Client, screen: Screen, arguments: Namespace) -> int:
    pages = _pages(
        lambda limit, cursor: client.lots_page(
            limit=limit,
            cursor=cursor,
            kind=arguments.kind,
            product=arguments.product,
            site=arguments.site,
            state=arguments.state,
            held=arguments.held,
            made_from=arguments.made_from,
            made_to=arguments.made_to,
            prefix=arguments.prefix,
        ),
        lambda page: page.lots,
        arguments.limit,
    )
    answer = LotPage(
        lots=[lot for page in pages for lot in page.lots],
        as_of=pages[-1].as_of,
        next_cursor=pages[-1].next_cursor,
    )
    code = _print(screen, arguments, answer, lambda: show_lots(screen, answer.lots))
    return _more(screen, arguments, answer.next_cursor, code)


def _lot(client: Client, screen: Screen, arguments: Namespace) -> int:
    answer = client.lot(arguments.lot, as_of=arguments.as_of)
    return _print(screen, arguments, answer, lambda: show_lot(screen, answer))


def _discrepancies(client: Client, screen: Screen, arguments: Namespace) -> int:
    pages = _pages(
        lambda limit, cursor: client.discrepancies_page(
            limit=limit, cursor=cursor, show=arguments.show, lot=arguments.lot
        ),
        lambda page: page.discrepancies,
        arguments.limit,
    )
    answer = DiscrepancyPage(
        discrepancies=[found for page in pages for found in page.discrepancies],
        as_of=pages[-1].as_of,
        next_cursor=pages[-1].next_cursor,
    )
    code = _print(
        screen,
        arguments,
        answer,
        lambda: show_discrepancies(screen, answer.discrepancies, none="none"),
    )
    return _more(screen, arguments, answer.next_cursor, code)


def _whoami(client: Client, screen: Screen, arguments: Namespace) -> int:
    answer = client.whoami()

    def show() -> None:
        screen.facts(
            [
                ("Key", answer.key),
                ("Name", answer.name),
                ("Role", answer.role),
                ("Site", answer.site or ""),
                ("Partner", answer.partner or ""),
                ("Expires", local_time(answer.expires_at) or "never"),
                ("API", answer.api),
            ]
        )

    return _print(screen, arguments, answer, show)


def _print(screen: Screen, arguments: Namespace, answer: Any, show: Callable[[], None]) -> int:
    if arguments.json:
        screen.json(answer)
    else:
        show()
    return DONE


def _more(screen: Screen, arguments: Namespace, cursor: str | None, code: int) -> int:
    # On standard error, so that it reaches a person also when the list is piped.
    if cursor is not None:
        screen.error(f"there are more than {arguments.limit}: raise --limit to see them")
    return code


def _pages(
    ask: Callable[[int, str | None], Any], entries_of: Callable[[Any], list[Any]], limit: int
) -> list[Any]:
    """Ask pages until there are ``limit`` entries or no more pages."""
    pages = []
    cursor: str | None = None
    left = limit
    while True:
        page = ask(min(left, _MOST_A_PAGE), cursor)
        pages.append(page)
        left -= len(entries_of(page))
        cursor = page.next_cursor
        if cursor is None or left <= 0:
            return pages


COMMANDS: dict[str, Callable[[Client, Screen, Namespace], int]] = {
    "origin": _origin,
    "trace": _trace,
    "drill": _drill,
    "drills": _drills,
    "lots": _lots,
    "lot": _lot,
    "discrepancies": _discrepancies,
    "tell": tell_file,
    "outbox": look_at_outbox,
    "label": label,
    "registers": fetch_registers,
    "scale": weigh_lots,
    "stamp": stamp_pieces,
    "packs-check": check_packs_file,
    "sensors": list_sensors,
    "climate": ask_climate,
    "conditions": ask_conditions,
    "weight-loss": ask_weight_loss,
    "compare": ask_comparison,
    "readings": handle_readings,
    "whoami": _whoami,
}
