"""The fold: from the set of a lot's entries to all that is derived of the lot.

Entries are taken in order of the time they happened, so the order in which they were told makes
no difference. At one and the same time, what brings a lot comes before what takes of it.
"""

from collections.abc import Iterable

from rindline_schema.answers.lots import LotState
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import Entry
from rindline_server.ledger.fold_holds import fold_holds
from rindline_server.ledger.fold_places import Place, overlapping
from rindline_server.ledger.states import Found, FoundKind, Holding, LotRecord, Sent, Stay

__all__ = ["fold"]

_RANK = {
    kind: rank
    for rank, kind in enumerate(
        (
            "born",
            "arrive",
            "move",
            "weigh",
            "hold",
            "release",
            "unpack",
            "pack",
            "tend",
            "iron",
            "result",
            "sample",
            "take",
            "drain",
            "loss",
            "discard",
            "dispatch",
            "finish",
        )
    )
}


def _order(entry: Entry) -> tuple[int, int, str, int]:
    return entry.at_us, _RANK[entry.kind], entry.event, entry.line


class _Load:
    """Grams and pieces in one place."""

    __slots__ = ("count", "mass_g", "room", "to_site")

    def __init__(self) -> None:
        self.mass_g = 0
        self.count = 0
        self.room: str | None = None
        self.to_site: str | None = None

    def take(self, mass_g: int | None, count: int | None) -> tuple[int, int]:
        """Take grams and pieces; where one is not said it follows from the other, or is all."""
        if mass_g is None:
            whole_g = max(self.mass_g, 0)
            by_count = count is not None and 0 < count < self.count
            mass_g = (
                (whole_g * (count or 0) * 2 + self.count) // (self.count * 2)
                if by_count
                else whole_g
            )
        if count is None:
            by_mass = 0 < mass_g < self.mass_g
            count = self.count * mass_g // self.mass_g if by_mass else max(self.count, 0)
        self.mass_g -= mass_g
        self.count -= count
        return mass_g, count


class _Folding:
    """The state while a lot's entries are gone through in order of time."""

    def __init__(self, entries: list[Entry], tolerance: ScaleTolerance) -> None:
        self.tolerance = tolerance
        self.born = next((entry for entry in entries if entry.kind == "born"), None)
        self.made_g = (self.born.mass_g or 0) if self.born else 0
        self.spare_g = tolerance.of(self.made_g)
        self.sites: dict[str, _Load] = {}
        self.transit: dict[str, _Load] = {}
        self.sent_g: dict[str, int] = {}
        self.arrived: dict[str, str] = {}
        self.partners: dict[str, _Load] = {}
        self.been_at: set[str] = set()
        self.sums = dict.fromkeys(
            ("into", "ripening", "drained", "cutting", "samples", "discarded", "unaccounted"), 0
        )
        self.packed_g = 0
        self.worst_g = 0
        self.stays: list[Stay] = []
        self.sent: list[Sent] = []
        self.open_stay: dict[str, tuple[str | None, int]] = {}
        self.places: list[tuple[Place, str]] = []
        self.found: list[Found] = []

    def report(self, kind: FoundKind, entry: Entry, grams: int, *, sure: bool) -> None:
        self.found.append(Found(kind, entry.event, grams, sure))

    # --- what each kind of entry does ---------------------------------------------------------

    def step(self, entry: Entry) -> None:
        if (
            self.born is not None
            and self.born.at_us > entry.at_us
            and entry.kind not in ("hold", "release")
        ):
            self.report("before_it_existed", entry, 0, sure=True)
        handle = _STEPS.get(entry.kind)
        if handle is not None:
            handle(self, entry)

    def bring(self, entry: Entry) -> None:
        load = self.sites.setdefault(entry.site, _Load())
        load.mass_g += entry.mass_g or 0
        load.count += entry.count or 0
        load.room = entry.room
        self.been_at.add(entry.site)
        self.stand(entry)

    def arrive(self, entry: Entry) -> None:
        if entry.document is not None:
            load = self.transit.setdefault(entry.document, _Load())
            self.arrived[entry.document] = entry.event
        else:
            load = self.partners.setdefault(entry.partner or "", _Load())
        mass_g, count = load.take(entry.mass_g, entry.count)
        if entry.partner is not None and self.born and load.mass_g < -self.spare_g:
            self.report("returned_more", entry, -load.mass_g, sure=False)
        here = self.sites.setdefault(entry.site, _Load())
        here.mass_g += mass_g
        here.count += count
        here.room = entry.room or here.room
        self.been_at.add(entry.site)
        self.stand(entry)

    def move(self, entry: Entry) -> None:
        load = self.sites.setdefault(entry.site, _Load())
        if self.born and load.mass_g <= 0:
            self.report("not_here", entry, 0, sure=entry.site in self.been_at)
        load.room = entry.room
        self.stand(entry)

    def stand(self, entry: Entry) -> None:
        """Open the stay in the room the lot now stands in, closing the one before."""
        current = self.open_stay.get(entry.site)
        if current is not None:
            if entry.room is None or current[0] == entry.room:
                return
            self.stays.append(Stay(entry.site, current[0], current[1], entry.at_us))
        self.open_stay[entry.site] = (entry.room, entry.at_us)

    def leave_if_empty(self, entry: Entry) -> None:
        load = self.sites[entry.site]
        if load.mass_g <= 0:
            current = self.open_stay.pop(entry.site, None)
            if current is not None:
                self.stays.append(Stay(entry.site, *current, entry.at_us))

    def weigh(self, entry: Entry) -> None:
        load = self.sites.setdefault(entry.site, _Load())
        weighed_g = entry.mass_g or 0
        if load.mass_g <= 0:
            # Nothing is known to lie here, so there is nothing to compare with. When the fact
            # that brought it is told, this entry is folded again with it.
            if self.born:
                self.report("not_here", entry, weighed_g, sure=False)
        elif weighed_g > load.mass_g + self.tolerance.of(load.mass_g):
            self.report("heavier_than_before", entry, weighed_g - load.mass_g, sure=False)
            self.sums["unaccounted"] -= weighed_g - load.mass_g
            load.mass_g = weighed_g
        elif weighed_g < load.mass_g:
            # Within the tolerance above, the earlier figure stands: a scale's noise is no gain.
            self.sums["ripening"] += load.mass_g - weighed_g
            load.mass_g = weighed_g

    def claim(self, entry: Entry) -> None:
        """Take mass from where the lot lies and book it under its heading."""
        load = (
            self.transit.setdefault(entry.document, _Load())
            if entry.kind == "discard" and entry.document is not None
            else self.sites.setdefault(entry.site, _Load())
        )
        mass_g, count = load.take(entry.mass_g, entry.count)
        if entry.kind == "dispatch":
            self.send(entry, mass_g, count)
        else:
            self.sums[_HEADINGS[entry.kind]] += mass_g
        if entry.kind == "take" and entry.detail is not None:
            self.cut_out(entry)
        self.judge(entry, load)
        if entry.site in self.sites:
            self.leave_if_empty(entry)

    def send(self, entry: Entry, mass_g: int, count: int) -> None:
        if entry.partner is not None:
            there = self.partners.setdefault(entry.partner, _Load())
        else:
            there = self.transit.setdefault(entry.document or "", _Load())
            there.to_site = entry.to_site
            self.sent_g[entry.document or ""] = self.sent_g.get(entry.document or "", 0) + mass_g
        there.mass_g += mass_g
        there.count += count
        self.sent.append(
            Sent(
                event=entry.event,
                document=entry.document or "",
                document_kind=entry.detail or "",
                at_us=entry.at_us,
                mass_g=mass_g,
                count=count,
                partner=entry.partner,
                to_site=entry.to_site,
            )
        )

    def cut_out(self, entry: Entry) -> None:
        place = Place.parse(entry.detail or "")
        if any(event != entry.event and overlapping(place, other) for other, event in self.places):
            self.report("places_overlap", entry, 0, sure=True)
        self.places.append((place, entry.event))

    def finish(self, entry: Entry) -> None:
        """Nothing is left here: of a make the rest drained away, else it is unaccounted for."""
        load = self.sites.setdefault(entry.site, _Load())
        self.sums["drained" if entry.detail == "drained" else "unaccounted"] += load.mass_g
        load.mass_g = load.count = 0
        self.leave_if_empty(entry)

    def pack(self, entry: Entry) -> None:
        self.packed_g += (entry.mass_g or 0) * (1 if entry.kind == "pack" else -1)
        excess_g = self.packed_g - self.made_g - self.spare_g
        if self.born and entry.kind == "pack" and excess_g > 0:
            self.report("not_enough", entry, self.packed_g - self.made_g, sure=True)

    # --- what must add up ---------------------------------------------------------------------

    def ours_g(self) -> int:
        """Grams at our sites and on the way between them."""
        return sum(load.mass_g for load in self.sites.values()) + sum(
            load.mass_g for load in self.transit.values()
        )

    def judge(self, entry: Entry, load: _Load) -> None:
        """Report a claim on more than there is: in all, or at a place that had some and lost it."""
        if self.born is None:
            return
        over_g = -self.ours_g()
        if over_g > self.spare_g and over_g > self.worst_g:
            self.report("not_enough", entry, over_g - max(self.worst_g, 0), sure=True)
            self.worst_g = over_g
        elif load.mass_g < -self.spare_g or load.count < 0:
            if entry.site in self.been_at:
                self.report("not_enough", entry, max(-load.mass_g, 0), sure=True)
            else:
                self.report("not_here", entry, max(-load.mass_g, 0), sure=False)

    def settle_loads(self) -> None:
        """Book what is lost on the way or found over, as far as the scale tolerance goes."""
        for document, load in self.transit.items():
            event = self.arrived.get(document)
            if event is None or load.mass_g == 0:
                continue
            if document not in self.sent_g:
                self.found.append(Found("dispatch_not_told", event, -load.mass_g, sure=False))
            elif abs(load.mass_g) <= self.tolerance.of(self.sent_g[document]):
                self.sums["ripening"] += load.mass_g
                load.mass_g = load.count = 0
            else:
                self.found.append(Found("arrival_differs", event, load.mass_g, sure=False))
        if self.born is None:
            return
        if -self.spare_g <= self.ours_g() <= 0:
            # Cut to the last gram: what the pieces weigh over the whole is the scale's doing.
            for load in (*self.sites.values(), *self.transit.values()):
                self.sums["unaccounted"] += load.mass_g
                load.mass_g = load.count = 0

    # --- the result ---------------------------------------------------------------------------

    def record(self, entries: list[Entry]) -> LotRecord:
        holdings = self.holdings()
        holds, cleared = fold_holds(entries)
        still = [
            Stay(site, room, from_us, None) for site, (room, from_us) in self.open_stay.items()
        ]
        return LotRecord(
            state=self.state(holdings),
            product=self.born.detail if self.born else None,
            born_us=self.born.at_us if self.born else None,
            made_g=self.made_g,
            made_count=(self.born.count or 0) if self.born else 0,
            holdings=holdings,
            into_g=self.sums["into"],
            ripening_g=self.sums["ripening"],
            drained_g=self.sums["drained"],
            cutting_g=self.sums["cutting"],
            samples_g=self.sums["samples"],
            discarded_g=self.sums["discarded"],
            unaccounted_g=self.sums["unaccounted"],
            stays=tuple(sorted([*self.stays, *still], key=lambda s: (s.from_us, s.site))),
            sent=tuple(self.sent),
            holds=holds,
            cleared_us=cleared,
            found=tuple(self.found),
        )

    def holdings(self) -> tuple[Holding, ...]:
        made: list[Holding] = []
        for site, load in sorted(self.sites.items()):
            if load.mass_g:
                made.append(Holding("site", site, load.mass_g, max(load.count, 0), load.room))
        for document, load in sorted(self.transit.items()):
            if load.mass_g:
                made.append(
                    Holding(
                        "transit",
                        document,
                        load.mass_g,
                        max(load.count, 0),
                        to_site=load.to_site,
                    )
                )
        for partner, load in sorted(self.partners.items()):
            if load.mass_g:
                made.append(Holding("partner", partner, load.mass_g, max(load.count, 0)))
        return tuple(made)

    def state(self, holdings: tuple[Holding, ...]) -> LotState:
        if self.born is None:
            return "pending"
        held_by = {holding.where for holding in holdings if holding.mass_g > 0}
        if "site" in held_by:
            return "on_hand"
        if "transit" in held_by:
            return "in_transit"
        return "with_partners" if "partner" in held_by else "used_up"


_HEADINGS = {
    "take": "into",
    "drain": "drained",
    "loss": "cutting",
    "sample": "samples",
    "discard": "discarded",
}

_STEPS = {
    "born": _Folding.bring,
    "arrive": _Folding.arrive,
    "move": _Folding.move,
    "weigh": _Folding.weigh,
    "take": _Folding.claim,
    "drain": _Folding.claim,
    "loss": _Folding.claim,
    "sample": _Folding.claim,
    "discard": _Folding.claim,
    "dispatch": _Folding.claim,
    "finish": _Folding.finish,
    "pack": _Folding.pack,
    "unpack": _Folding.pack,
}


def fold(entries: Iterable[Entry], tolerance: ScaleTolerance) -> LotRecord:
    """Derive a lot's record from its entries, given in any order."""
    ordered = sorted(entries, key=_order)
    if not ordered:
        return LotRecord()
    folding = _Folding(ordered, tolerance)
    for entry in ordered:
        folding.step(entry)
    folding.settle_loads()
    return folding.record(ordered)
