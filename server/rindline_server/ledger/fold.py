"""The fold: from the set of a lot's entries to all that is derived of the lot.

Entries are taken in order of the time they happened, so the order in which they were told makes
no difference. At one and the same time, what brings a lot comes before what takes of it.
"""

from collections.abc import Iterable

from rindline_schema.answers.lots import LotState
from rindline_server.calc.tolerance import ScaleTolerance
from rindline_server.ledger.entries import TIMELESS, Entry
from rindline_server.ledger.fold_holds import fold_holds
from rindline_server.ledger.fold_loads import Load
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
            "label",
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


class _Folding:
    """The state while a lot's entries are gone through in order of time."""

    def __init__(self, entries: list[Entry], tolerance: ScaleTolerance) -> None:
        self.tolerance = tolerance
        self.born = next((entry for entry in entries if entry.kind == "born"), None)
        self.made_g = (self.born.mass_g or 0) if self.born else 0
        self.spare_g = tolerance.of(self.made_g)
        self.sites: dict[str, Load] = {}
        self.transit: dict[str, Load] = {}
        self.sent_g: dict[str, int] = {}
        self.arrived: dict[str, str] = {}
        self.partners: dict[str, Load] = {}
        self.is_open = False
        self.sums = dict.fromkeys(
            ("into", "ripening", "drained", "cutting", "samples", "discarded", "unaccounted"), 0
        )
        self.packed_g = 0
        self.short_g = 0
        self.rests_g = 0
        self.stays: list[Stay] = []
        self.sent: list[Sent] = []
        self.open_stay: dict[str, tuple[str | None, int]] = {}
        self.places: list[Place] = []
        self.found: dict[tuple[FoundKind, str], Found] = {}

    def report(self, kind: FoundKind, event: str, grams: int = 0, *, sure: bool = False) -> None:
        """Note what does not fit; an event's several lines make one finding."""
        so_far = self.found.get((kind, event))
        if so_far is not None:
            grams, sure = so_far.grams + grams, so_far.sure or sure
        self.found[kind, event] = Found(kind, event, grams, sure)

    def at_site(self, site: str) -> Load:
        return self.sites.setdefault(site, Load())

    # --- what each kind of entry does ---------------------------------------------------------

    def step(self, entry: Entry) -> None:
        if self.born is not None and self.born.at_us > entry.at_us and entry.kind not in TIMELESS:
            self.report("before_it_existed", entry.event, sure=True)
        handle = _STEPS.get(entry.kind)
        if handle is not None:
            handle(self, entry)

    def bring(self, entry: Entry) -> None:
        load = self.at_site(entry.site)
        load.bring(entry.mass_g or 0, entry.count or 0)
        load.room = entry.room
        self.stand(entry)

    def arrive(self, entry: Entry) -> None:
        if entry.document is not None:
            load = self.transit.setdefault(entry.document, Load())
            self.arrived[entry.document] = entry.event
        else:
            load = self.partners.setdefault(entry.partner or "", Load())
        mass_g, count = load.take(entry.mass_g, entry.count)
        if entry.partner is not None and self.born and load.mass_g < -self.spare_g:
            self.report("returned_more", entry.event, load.shortage()[0])
        here = self.at_site(entry.site)
        here.bring(mass_g, count)
        here.room = entry.room or here.room
        if entry.mass_g is None and mass_g == 0:
            # All of it came, and how much that was follows from a dispatch still untold.
            here.is_open = True
            self.is_open = self.is_open or entry.partner is not None
        self.stand(entry)

    def move(self, entry: Entry) -> None:
        load = self.at_site(entry.site)
        if self.born and load.mass_g <= 0:
            self.report("not_here", entry.event, sure=load.is_sure)
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

    def leave_if_empty(self, site: str, at_us: int) -> None:
        load = self.sites.get(site)
        if load is not None and load.mass_g <= 0:
            current = self.open_stay.pop(site, None)
            if current is not None:
                self.stays.append(Stay(site, *current, at_us))

    def weigh(self, entry: Entry) -> None:
        load = self.at_site(entry.site)
        weighed_g = entry.mass_g or 0
        if load.mass_g <= 0:
            # Nothing is known to lie here, so there is nothing to compare with. When the fact
            # that brought it is told, this entry is folded again with it.
            if self.born and weighed_g > 0:
                self.report("not_here", entry.event, weighed_g)
        elif weighed_g > load.mass_g + self.tolerance.of(load.mass_g):
            self.report("heavier_than_before", entry.event, weighed_g - load.mass_g)
            self.sums["unaccounted"] -= weighed_g - load.mass_g
            load.mass_g = weighed_g
        elif weighed_g < load.mass_g:
            # Within the tolerance above, the earlier figure stands: a scale's noise is no gain.
            self.sums["ripening"] += load.mass_g - weighed_g
            self.rests_g += load.mass_g - weighed_g
            load.mass_g = weighed_g

    def claim(self, entry: Entry) -> None:
        """Take mass from where the lot lies and book it under its heading."""
        load = (
            self.transit.setdefault(entry.document, Load())
            if entry.kind == "discard" and entry.document is not None
            else self.at_site(entry.site)
        )
        if self.born and load.mass_g <= 0 and entry.mass_g is None and entry.count is None:
            self.report("not_here", entry.event, sure=load.is_sure)
        mass_g, count = load.take(entry.mass_g, entry.count)
        if entry.mass_g is None and entry.to_site is None:
            self.rests_g += mass_g
        if entry.kind == "dispatch":
            self.send(entry, mass_g, count)
        else:
            self.sums[_HEADINGS[entry.kind]] += mass_g
        if entry.kind == "take" and entry.detail is not None:
            self.cut_out(entry)
        self.judge(entry, load)
        self.leave_if_empty(entry.site, entry.at_us)

    def send(self, entry: Entry, mass_g: int, count: int) -> None:
        if entry.partner is not None:
            there = self.partners.setdefault(entry.partner, Load())
        else:
            there = self.transit.setdefault(entry.document or "", Load())
            there.to_site = entry.to_site
            self.sent_g[entry.document or ""] = self.sent_g.get(entry.document or "", 0) + mass_g
        there.bring(mass_g, count)
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
        if any(overlapping(place, other) for other in self.places):
            self.report("places_overlap", entry.event, sure=True)
        self.places.append(place)

    def finish(self, entry: Entry) -> None:
        """Nothing is left here: of a make the rest drained away, else it is unaccounted for."""
        heading = "drained" if entry.detail == "drained" else "unaccounted"
        left_g = self.at_site(entry.site).empty()
        self.sums[heading] += left_g
        self.rests_g += max(left_g, 0)
        self.leave_if_empty(entry.site, entry.at_us)

    def pack(self, entry: Entry) -> None:
        """Keep count of what lies in cases; a case unpacked may still be untold."""
        packed_g = entry.mass_g or 0
        self.packed_g += packed_g
        if self.born is None:
            return
        here = self.at_site(entry.site)
        ever_g = self.made_g - sum(self.sums[heading] for heading in _HEADINGS.values())
        if packed_g > here.mass_g + self.spare_g:
            kind: FoundKind = "not_enough" if here.is_sure else "not_here"
            self.report(kind, entry.event, packed_g - max(here.mass_g, 0), sure=here.is_sure)
        elif self.packed_g > ever_g + self.spare_g:
            self.report("packed_twice", entry.event, self.packed_g - ever_g)

    def unpack(self, entry: Entry) -> None:
        self.packed_g -= entry.mass_g or 0
        if self.born and self.packed_g < -self.spare_g:
            self.report("not_packed", entry.event, -self.packed_g)

    # --- what must add up ---------------------------------------------------------------------

    def ours_g(self) -> int:
        """Grams at our sites and on the way between them."""
        return sum(load.mass_g for load in self.sites.values()) + sum(
            load.mass_g for load in self.transit.values()
        )

    def judge(self, entry: Entry, load: Load) -> None:
        """Report a claim on more than there is: in all, or at a place that had some and lost it.

        What was lost before a weighing, or taken as all that was left, would have been less, had
        something untold been taken before: by so much a shortage in all is not yet sure.
        """
        if self.born is None:
            return
        over_g = -self.ours_g()
        more_g = over_g - self.short_g
        self.short_g = max(self.short_g, over_g)
        here_g, here_count = load.shortage()
        is_short_in_all = over_g > self.spare_g and more_g > 0
        is_sure = not self.is_open and over_g > self.spare_g + self.rests_g
        if is_short_in_all and is_sure:
            self.report("not_enough", entry.event, more_g, sure=True)
        elif (load.mass_g < -self.spare_g and here_g) or here_count:
            kind: FoundKind = "not_enough" if load.is_sure else "not_here"
            self.report(kind, entry.event, here_g, sure=load.is_sure)
        elif is_short_in_all:
            self.report("not_enough", entry.event, more_g)

    def settle_loads(self, last_us: int) -> None:
        """Book what is lost on the way or found over, as far as the scale tolerance goes."""
        for document, event in self.arrived.items():
            load = self.transit[document]
            if document not in self.sent_g:
                self.report("dispatch_not_told", event, -load.mass_g)
            elif abs(load.mass_g) <= self.tolerance.of(self.sent_g[document]):
                self.sums["ripening"] += load.empty()
            else:
                self.report("arrival_differs", event, load.mass_g)
        if self.born is not None and -self.spare_g <= self.ours_g() <= 0:
            # Cut to the last gram: what the pieces weigh over the whole is the scale's doing.
            for load in (*self.sites.values(), *self.transit.values()):
                self.sums["unaccounted"] += load.empty()
            for site in self.sites:
                self.leave_if_empty(site, last_us)

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
            found=tuple(self.found.values()),
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
    "unpack": _Folding.unpack,
}


def fold(entries: Iterable[Entry], tolerance: ScaleTolerance) -> LotRecord:
    """Derive a lot's record from its entries, given in any order."""
    ordered = sorted(entries, key=_order)
    if not ordered:
        return LotRecord()
    folding = _Folding(ordered, tolerance)
    for entry in ordered:
        folding.step(entry)
    folding.settle_loads(ordered[-1].at_us)
    return folding.record(ordered)
