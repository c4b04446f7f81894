"""What the office tells: register entries and findings, put into force or taken out of it."""

from rindline_schema.events import Declare, Fact, Settle
from rindline_schema.registers import Product, RegisterEntry, Room, Sensor, Tool
from rindline_server.ledger.discrepancies import discrepancy_id
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.needs import register_name
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import Version, World

__all__ = ["check", "record", "withdraw"]


def _nature(entry: RegisterEntry) -> str:
    """Give what an entry is, which must not change once lots use it."""
    if isinstance(entry, Product | Tool):
        return entry.kind
    if isinstance(entry, Room):
        return entry.site
    return ""


def _is_in_use(world: World, register: str, code: str) -> bool:
    if not world.is_everything:
        return (register, code) in world.in_use
    entries = (entry for book in world.books.values() for entry in book.entries)
    if register == "product":
        return any(entry.kind == "born" and entry.detail == code for entry in entries)
    return any(entry.room == code for entry in entries)


def check(world: World, fact: Fact) -> None:
    """Refuse a declaration that changes the nature of what is in use, or an idle finding."""
    if isinstance(fact, Settle) and not _is_open(world, fact.discrepancy):
        raise refuse("no_such_discrepancy", f"{fact.discrepancy} is not open")
    if not isinstance(fact, Declare):
        return
    entry = fact.entry
    lookup = Lookup(world.registers, to_us(fact.at))
    if isinstance(entry, Room) or (isinstance(entry, Tool) and entry.site is not None):
        lookup.site(entry.site or "")
    if isinstance(entry, Sensor) and ("room", entry.room) not in world.registers:
        raise refuse("not_declared", f"no room {entry.room!r} is declared")
    register = register_name(fact)
    versions = world.registers.get((register, entry.code), ())
    if any(_nature(v.entry) != _nature(entry) for v in versions) and _is_in_use(
        world, register, entry.code
    ):
        raise refuse(
            "nature_changed",
            f"{register} {entry.code!r} is in use as {_nature(versions[-1].entry)}",
        )


def _is_open(world: World, discrepancy: str) -> bool:
    if not world.is_everything:
        return discrepancy in world.open_discrepancies
    return any(
        discrepancy_id(lot, found) == discrepancy
        for lot, book in world.books.items()
        for found in book.record.found
    )


def record(world: World, fact: Fact) -> None:
    """Put a declaration or a finding into force."""
    if isinstance(fact, Declare):
        key = (register_name(fact), fact.entry.code)
        version = Version(to_us(fact.at), str(fact.id), fact.entry)
        versions = [*world.registers.get(key, ()), version]
        versions.sort(key=lambda v: (v.at_us, v.event))
        world.registers[key] = tuple(versions)
        world.new_versions.append((*key, version))
    elif isinstance(fact, Settle):
        world.new_findings.append((fact.discrepancy, str(fact.id), fact.finding))


def withdraw(world: World, fact: Fact) -> None:
    """Take a declaration or a finding out of force."""
    if isinstance(fact, Declare):
        key = (register_name(fact), fact.entry.code)
        gone = [v for v in world.registers.get(key, ()) if v.event == str(fact.id)]
        kept = [v for v in world.registers.get(key, ()) if v.event != str(fact.id)]
        if kept:
            world.registers[key] = tuple(kept)
        else:
            world.registers.pop(key, None)
        world.void_versions.extend((*key, version) for version in gone)
    elif isinstance(fact, Settle):
        world.void_findings.append((fact.discrepancy, str(fact.id)))
