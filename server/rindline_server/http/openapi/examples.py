"""Examples of bodies and answers. Written with the contract's types, so they can't go stale."""

from typing import Any

import msgspec

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    BatchAnswer,
    Discrepancy,
    DiscrepancyPage,
    DrillAnswer,
    DrillPage,
    DrillRequest,
    DrillSummary,
    DryRunAnswer,
    FeedPage,
    Health,
    Holder,
    KindCount,
    Losses,
    LotAnswer,
    LotPage,
    LotSummary,
    MakeOfOrigin,
    MilkShare,
    OriginAnswer,
    RecordedEvent,
    Refused,
    RegisteredEntry,
    RegisterPage,
    SiteHolds,
    StageBalance,
    Told,
    TraceAnswer,
    TracedEdge,
    TracedLot,
    WheelOfOrigin,
    Whoami,
)
from rindline_schema.labels import LabelFacts, make_label
from rindline_schema.problems import Fault, make_problem
from rindline_schema.registers import Product, Site
from rindline_server.http.openapi.air_examples import AIR_ANSWERS, AIR_BODIES
from rindline_server.http.openapi.event_examples import (
    DECLARED,
    EVENT_EXAMPLES,
    MAKE,
    MILK,
    PORTION,
    WHEEL,
    example_id,
    example_time,
)
from rindline_server.http.openapi.station_examples import STATION_ANSWERS, STATION_BODIES

__all__ = ["answer_example", "body_examples", "problem_example"]

_REQUEST_ID = "4f1c2a9be07d4c53a1d06e88"
_LEFT_G = 3_960

_TOLD = Told(id=example_id(5, 6), seq=812, recorded_at=example_time(6, 1))
_NOT_ENOUGH = make_problem(
    "not_enough",
    f"{WHEEL} has {_LEFT_G} g left; 7900 g were to be taken.",
    lot=WHEEL,
    left_g=_LEFT_G,
)
_RECORDED = RecordedEvent(
    seq=812,
    recorded_at=example_time(6, 1),
    station="k7f3q2",
    event=EVENT_EXAMPLES["move"],
    hash="b1946ac92492d2347c6235b4d2611184a7f0c1e5d9b34c0f8a7760c93d54e2f1",
)
_ENTRY = RegisteredEntry(
    code=DECLARED.entry.code,
    entry=DECLARED.entry,
    since=DECLARED.at,
    event_id=DECLARED.id,
)
_DISCREPANCY = Discrepancy(
    discrepancy="0123456789abcdef01234567",
    kind="heavier_than_before",
    lot=WHEEL,
    detail="Weighed 140 g heavier than before.",
    grams=140,
    event_id=str(example_id(8, 69)),
)
_REQUEST = DrillRequest(
    id=example_id(40, 80), lots=[MILK], direction="forward", reason="Yearly drill"
)
_DRILL = DrillAnswer(
    id=_REQUEST.id,
    purpose="drill",
    direction="forward",
    lots=[MILK],
    asked_at=example_time(80),
    asked_by="office",
    took_ms=41,
    as_of=14_230,
    counts=[KindCount(kind="wheel", lots=1, made_g=11_000)],
    on_hand=[SiteHolds(site="QM", room="CUTTING", lots=1, count=1, mass_g=_LEFT_G)],
    in_transit=[],
    customers=[],
    stages=[
        StageBalance(
            kind="wheel",
            lots=1,
            made_g=11_000,
            on_hand_g=_LEFT_G,
            in_transit_g=0,
            with_customers_g=0,
            into_lots_g=3_960,
            into_traced_g=3_960,
            into_trim_g=0,
            drained_g=0,
            ripening_loss_g=3_080,
            cutting_loss_g=0,
            samples_g=0,
            discarded_g=0,
            unaccounted_g=0,
            accounted_pct=100.0,
        )
    ],
    pending=[],
    discrepancies=[],
    held_lots=0,
    safety_note=SAFETY_NOTE,
    reason="Yearly drill",
)
_SUMMARY = DrillSummary(
    id=_DRILL.id,
    purpose="drill",
    direction="forward",
    lots=[MILK],
    asked_at=_DRILL.asked_at,
    asked_by="office",
    took_ms=41,
    as_of=14_230,
)

_ANSWERS: dict[str, Any] = {
    "tell": _TOLD,
    "tell_many": BatchAnswer(
        outcomes=[_TOLD, Refused(problem=_NOT_ENOUGH, id=str(example_id(9, 70)))],
        recorded=1,
        refused=1,
        replayed=0,
    ),
    "try_events": DryRunAnswer(outcomes=[Refused(problem=_NOT_ENOUGH)]),
    "feed": FeedPage(events=[_RECORDED], next_after=812, as_of=14_230, more=True),
    "event": _RECORDED,
    "lots": LotPage(
        lots=[
            LotSummary(lot=WHEEL, kind="wheel", state="on_hand", site="QM", mass_g=_LEFT_G, count=1)
        ],
        as_of=14_230,
    ),
    "lot": LotAnswer(
        lot=WHEEL,
        kind="wheel",
        state="on_hand",
        site="QM",
        as_of=14_230,
        product="QUILLMERE-BLUE",
        made_at=example_time(0, 6),
        made_g=11_000,
        made_count=1,
        holders=[Holder(where="site", holder="QM", room="CUTTING", mass_g=_LEFT_G, count=1)],
        losses=Losses(into_lots_g=3_960, ripening_loss_g=3_080),
    ),
    "origin": OriginAnswer(
        lot=PORTION,
        kind="portion",
        state="with_partners",
        as_of=14_230,
        safety_note=SAFETY_NOTE,
        product="QUILLMERE-BLUE-HALF",
        product_name="Quillmere Blue, half",
        site="QM",
        made_at=example_time(70),
        age_days=70,
        made_g=3_960,
        wheels=[WheelOfOrigin(lot=WHEEL, made_at=example_time(0, 6), made_g=11_000)],
        makes=[MakeOfOrigin(lot=MAKE, site="QM", milk_treatment="pasteurised")],
        milk=[MilkShare(lot=MILK, share_ppm=1_000_000, supplier="FARM-1")],
    ),
    "trace": TraceAnswer(
        lot=WHEEL,
        direction="forward",
        as_of=14_230,
        counts=[KindCount(kind="wheel", lots=1, made_g=11_000)],
        lots=[
            TracedLot(lot=WHEEL, kind="wheel", state="on_hand", steps=0, made_g=11_000),
            TracedLot(lot=PORTION, kind="portion", state="with_partners", steps=1, made_g=3_960),
        ],
        edges=[TracedEdge(parent=WHEEL, child=PORTION, mass_g=3_960)],
    ),
    "label": make_label(
        LabelFacts(
            kind="portion",
            product=Product(
                code="QUILLMERE-BLUE-HALF", kind="portion", name="Quillmere Blue, half"
            ),
            site=Site(code="QM", name="Quillmere Dairy"),
            lot=PORTION,
            mass_g=3_960,
            packed_on=example_time(70).date(),
            wheels=[WHEEL],
            makes=[MAKE],
        )
    ),
    "discrepancies": DiscrepancyPage(discrepancies=[_DISCREPANCY], as_of=14_230),
    "register": RegisterPage(entries=[_ENTRY], as_of=14_230),
    "register_entry": _ENTRY,
    "start_drill": _DRILL,
    "drill": _DRILL,
    "drills": DrillPage(drills=[_SUMMARY]),
    **STATION_ANSWERS,
    **AIR_ANSWERS,
    "whoami": Whoami(key="k7f3q2", name="Scale in the cutting room", role="station", site="QM"),
    "live": Health(status="ok", version="0.1.0"),
    "ready": Health(status="ok", version="0.1.0"),
}

_MEMBERS: dict[str, dict[str, Any]] = {
    "malformed": {"faults": [Fault(pointer="/lots/0", detail="Expected `str`, got `int`")]},
    "unknown_parameter": {"faults": [Fault(pointer="limt", detail="Not a known parameter")]},
    "not_enough": {"lot": WHEEL, "left_g": _LEFT_G},
    "lot_held": {"lot": WHEEL},
    "correction_in_the_way": {"event_ids": [str(example_id(9, 70))]},
    "already_corrected": {"event_ids": [str(example_id(23, 69))]},
}


def answer_example(name: str) -> Any:
    """Give an example of an operation's answer, as plain JSON values."""
    return msgspec.to_builtins(_ANSWERS[name])


def body_examples(name: str) -> dict[str, Any]:
    """Give named examples of an operation's body, as plain JSON values."""
    if name == "tell":
        return {kind: msgspec.to_builtins(event) for kind, event in EVENT_EXAMPLES.items()}
    if name == "start_drill":
        return {"forward": msgspec.to_builtins(_REQUEST)}
    bodies = {**STATION_BODIES, **AIR_BODIES}
    if name in bodies:
        return {"one": msgspec.to_builtins(bodies[name])}
    batch = [EVENT_EXAMPLES["hoop"], EVENT_EXAMPLES["move"]]
    return {"two": msgspec.to_builtins(batch)}


def problem_example(code: str) -> Any:
    """Give an example of a problem, as plain JSON values."""
    detail = "What exactly was wrong with this request."
    problem = make_problem(code, detail, request_id=_REQUEST_ID, **_MEMBERS.get(code, {}))
    return msgspec.to_builtins(problem)
