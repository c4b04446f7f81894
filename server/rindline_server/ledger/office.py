"""What the office tells: register entries and findings, put into force or taken out of it."""

from rindline_schema.events import Correct, Declare, Fact, Settle
from rindline_schema.registers import Product, RegisterEntry, Room, Sensor, Tool
from rindline_server.ledger.discrepancies import discrepancy_id
from rindline_server.ledger.entries import Entry
from rindline_server.ledger.lookups import Lookup
from rindline_server.ledger.needs import register_name
from rindline_server.ledger.refusal import refuse
from rindline_server.ledger.states import LotRecord
from rindline_server.ledger.times import to_us
from rindline_server.ledger.world import Version, World

__all__ = ["check", "check_withdrawal", "is_in_use", "record", "withdraw"]


def _nature(entry: RegisterEntry) -> str:
    """Give what an entry is, which must not change once lots use it."""
    if isinstance(entry, Product | Tool):
        return entry.kind
    if isinstance(entry, Room):
        return entry.site
    return ""


def _names(entry: Entry, register: str, code: str) -> bool:
    """Tell whether a lot's entry names a register entry."""
    if register == "product":
        return entry.kind == "born" and entry.detail == code
    if register == "room":
        return entry.room == code
    if register == "partner":
        return entry.partner == code
    return register == "site" and code in (entry.site, entry.to_site)


def is_in_use(world: World, register: str, code: str) -> bool:
    """Tell whether a lot's entry in force names a register entry (see ``Needs``)."""
    if (register, code) in world.in_use:
        return True
    if not world.is_everything:
        return any(_names(entry, register, code) for entry in world.new_entries)
    entries = (entry for book in world.books.values() for entry in book.entries)
    return any(_names(entry, register, code) for entry in entries)


def check(world: World, fact: Fact, voided: str | None = None) -> None:
    """Refuse a declaration that changes the nature of what is in use, or an idle finding.

    ``voided`` is the id of the event that the fact stands for, if it comes with a correction.
    """
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
    was = {
        _nature(version.entry)
        for version in world.registers.get((register, entry.code), ())
        if not (isinstance(entry, Tool) and version.event == voided)
    }
    was.discard(_nature(entry))
    # Lots do not name the tools that touched them, so a tool counts as used once declared.
    if was and (isinstance(entry, Tool) or is_in_use(world, register, entry.code)):
        raise refuse("nature_changed", f"{register} {entry.code!r} stands as {min(was)}")


def check_withdrawal(world: World, event: Correct) -> None:
    """Refuse to take away the only declaration of what lots name."""
    target = world.recorded.get(str(event.event))
    if not isinstance(target, Declare) or str(event.event) in world.voids:
        return
    register, code = register_name(target), target.entry.code
    instead = event.replacement
    if isinstance(instead, Declare) and (register_name(instead), instead.entry.code) == (
        register,
        code,
    ):
        return
    versions = world.registers.get((register, code), ())
    if all(v.event == str(target.id) for v in versions) and is_in_use(world, register, code):
        raise refuse("nature_changed", f"{register} {code!r} is in use, and declared nowhere else")


def _is_open(world: World, discrepancy: str) -> bool:
    if world.is_everything:
        return any(_holds(lot, book.record, discrepancy) for lot, book in world.books.items())
    for lot, before in world.touched.items():
        if _holds(lot, world.books[lot].record, discrepancy):
            return True
        if _holds(lot, before, discrepancy):
            return False
    return discrepancy in world.open_discrepancies


def _holds(lot: str, record: LotRecord, discrepancy: str) -> bool:
    return any(discrepancy_id(lot, found) == discrepancy for found in record.found)


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
