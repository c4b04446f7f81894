"""Stations: who spoke last, which numbers are missing, whose clock is wrong."""

from rindline_schema.answers import StationPage, StationState
from rindline_schema.params import PageParams
from rindline_server.service.cursors import read_cursor, write_cursor
from rindline_server.service.outboxes import outbox_state
from rindline_server.store import OutboxRow, ReadTransaction

__all__ = ["station_page", "stations_behind"]


def _stations(snap: ReadTransaction) -> list[StationState]:
    """Give the stations by name: those with a key in force, and all that ever had an outbox."""
    outboxes: dict[str, list[OutboxRow]] = {}
    who: dict[str, tuple[str, str | None]] = {}
    for key in snap.all_keys():
        if key.role == "station" and key.revoked_us is None:
            who[key.prefix] = (key.name, key.site)
    for row in snap.outboxes():
        outboxes.setdefault(row.key, []).append(row)
        who[row.key] = (row.name, row.site)
    states = []
    for prefix, (name, site) in who.items():
        heard = [outbox_state(row) for row in outboxes.get(prefix, ())]
        states.append(
            StationState(
                key=prefix,
                name=name,
                site=site,
                last_heard_at=max((one.last_heard_at for one in heard), default=None),
                outboxes=heard,
            )
        )
    return sorted(states, key=lambda state: (state.name, state.key))


def station_page(snap: ReadTransaction, params: PageParams) -> StationPage:
    """List the stations, by the name of their key."""
    after = read_cursor(params.cursor) or ""
    states = [state for state in _stations(snap) if f"{state.name}|{state.key}" > after]
    page = states[: params.limit]
    more = len(states) > params.limit
    return StationPage(
        stations=page,
        as_of=snap.as_of,
        next_cursor=write_cursor(f"{page[-1].name}|{page[-1].key}") if more else None,
    )


def stations_behind(snap: ReadTransaction) -> list[StationState]:
    """Give the stations that have not told everything: a drill can be no better than they are."""
    return [
        state
        for state in _stations(snap)
        if any(one.missing_count or one.queued or one.set_aside for one in state.outboxes)
    ]
