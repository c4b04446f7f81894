"""Lots and answers for the SDK's tests; the dairy and its shops are invented."""

from datetime import UTC, date, datetime, timedelta, timezone
from uuid import UUID

from rindline_schema import SAFETY_NOTE
from rindline_schema.answers import (
    CustomerHolds,
    Discrepancy,
    DocumentLine,
    DrillAnswer,
    DrillPage,
    DrillSummary,
    HeldBecause,
    Holder,
    KindCount,
    LotAnswer,
    MakeOfOrigin,
    MilkShare,
    OriginAnswer,
    SiteHolds,
    StageBalance,
    TraceAnswer,
    TracedEdge,
    TracedLot,
    TransitHolds,
    WheelOfOrigin,
)
from rindline_schema.answers.lots import IngredientUsed, Losses
from rindline_schema.codes import lot_code, lot_code_prefix
from rindline_schema.registers import LotKind

DAY = date(2026, 2, 3)
AT = datetime(2026, 2, 3, 6, 30, tzinfo=timezone(timedelta(hours=1)))
DRILL = UUID("019c0000-0000-7000-8000-000000000001")


def code(kind: LotKind, serial: int) -> str:
    """Give a well-formed code of the invented dairy; another serial if this one has none."""
    found = None
    while found is None:
        found = lot_code(lot_code_prefix("QM", DAY, kind), serial)
        serial += 100
    return found


MILK = code("milk", 1)
MAKE = code("make", 1)
WHEEL = code("wheel", 1)
PORTION = code("portion", 1)
STARTER = code("ingredient", 1)
MISTYPED = PORTION[:-1] + ("0" if PORTION[-1] != "0" else "1")

ORIGIN = OriginAnswer(
    lot=PORTION,
    kind="portion",
    state="with_partners",
    as_of=41,
    safety_note=SAFETY_NOTE,
    product="QB-WEDGE",
    product_name="Quillmere Blue, wedge",
    site="QM",
    made_at=AT,
    age_days=90,
    made_g=250,
    held=True,
    holds=[HeldBecause(lot=MILK, since=AT, reason="inhibitors found", event_id=str(DRILL))],
    wheels=[WheelOfOrigin(lot=WHEEL, made_at=AT, made_g=2400)],
    makes=[MakeOfOrigin(lot=MAKE, site="QM", made_at=AT, milk_treatment="raw")],
    milk=[
        MilkShare(lot=MILK, share_ppm=400_000, supplier="HERD-1", supplier_name="Upper herd"),
        MilkShare(lot=code("milk", 2), share_ppm=600_000, pending=True),
    ],
    ingredients=[IngredientUsed(lot=STARTER, product="STARTER", supplier="CULTURES")],
    pending=[code("milk", 2)],
)

LOT = LotAnswer(
    lot=WHEEL,
    kind="wheel",
    state="on_hand",
    site="QM",
    as_of=41,
    product="QB-WHEEL",
    product_name="Quillmere Blue, wheel",
    made_at=AT,
    made_g=2400,
    made_count=1,
    holders=[Holder(where="site", holder="QM", room="CAVE-1", mass_g=1150, count=1)],
    losses=Losses(into_lots_g=1000, ripening_loss_g=250),
    discrepancies=[
        Discrepancy(
            discrepancy="0" * 24, kind="heavier_than_before", lot=WHEEL, detail="gained", grams=30
        )
    ],
)

TRACE = TraceAnswer(
    lot=MILK,
    direction="forward",
    as_of=41,
    counts=[KindCount(kind="milk", lots=1, made_g=412_000), KindCount(kind="make", lots=1)],
    lots=[
        TracedLot(lot=MILK, kind="milk", state="used_up", steps=0, made_at=AT, made_g=412_000),
        TracedLot(
            lot=MAKE,
            kind="make",
            state="on_hand",
            steps=1,
            holders=[Holder(where="site", holder="QM", room="VATS", mass_g=41_005, count=1)],
        ),
    ],
    edges=[TracedEdge(parent=MILK, child=MAKE, mass_g=412_000)],
)

DRILL_ANSWER = DrillAnswer(
    id=DRILL,
    purpose="live",
    direction="forward",
    lots=[MILK],
    asked_at=AT,
    asked_by="office",
    took_ms=37,
    as_of=41,
    counts=[
        KindCount(kind="wheel", lots=40, pending=1, made_g=96_000),
        KindCount(kind="portion", lots=12, made_g=24_125),
    ],
    on_hand=[SiteHolds(site="QM", room="CAVE-1", lots=30, count=30, mass_g=66_003)],
    in_transit=[TransitHolds(document="DN-7", to_site="PK", lots=2, count=2, mass_g=4_400)],
    customers=[
        CustomerHolds(
            customer="SHOP-3",
            name="Corner shop",
            address="3 Mill Lane",
            lots=1,
            count=9,
            mass_g=2_250,
            documents=[
                DocumentLine(
                    number="DN-9",
                    kind="delivery note",
                    dispatched_at=AT,
                    lots=1,
                    count=10,
                    mass_g=2_500,
                )
            ],
        )
    ],
    stages=[
        StageBalance(
            kind="wheel",
            lots=40,
            made_g=96_000,
            on_hand_g=66_003,
            in_transit_g=4_400,
            with_customers_g=0,
            into_lots_g=24_125,
            into_traced_g=24_125,
            into_trim_g=125,
            drained_g=0,
            ripening_loss_g=1_400,
            cutting_loss_g=20,
            samples_g=50,
            discarded_g=0,
            unaccounted_g=2,
            accounted_pct=99.998,
        )
    ],
    pending=[code("wheel", 7)],
    discrepancies=[],
    held_lots=3,
    safety_note=SAFETY_NOTE,
)

DRILLS = DrillPage(
    drills=[
        DrillSummary(
            id=DRILL,
            purpose="live",
            direction="forward",
            lots=[MILK],
            asked_at=datetime(2026, 2, 3, 5, 30, tzinfo=UTC),
            asked_by="office",
            took_ms=37,
            as_of=41,
        )
    ]
)
