"""``rindline scale``: a lot code, a mass that stands, a weigh event on disk; and again."""

from argparse import Namespace

from rindline._clock import Clock, RealClock
from rindline.cli._desk import EndedError, SkippedError, opened_desk
from rindline.cli._exits import DONE, REFUSED
from rindline.cli._figures import kilograms
from rindline.cli._scale_opening import open_scale, outbox_path
from rindline.cli._screen import Screen
from rindline.client import Client
from rindline.errors import RindlineError
from rindline.outbox import Outbox
from rindline.stations import Expected, expected_of_lot
from rindline_schema.codes import lot_code_fault

__all__ = ["LastMasses", "weigh_lots"]

# After a look-up that failed nobody waits for the next one in a cold room.
_NO_LOOK_S = 60.0


class LastMasses:
    """What lots last weighed: here, else as the server knows it, if it answers at once."""

    def __init__(self, client: Client, clock: Clock | None = None) -> None:
        self._client = client
        self._clock = clock or RealClock()
        self._here: dict[str, int] = {}
        self._again_at_s = 0.0

    def keep(self, lot: str, mass_g: int) -> None:
        """Remember what was weighed here."""
        self._here[lot] = mass_g

    def of(self, lot: str) -> int | None:
        """Give a lot's last known mass in grams, or None."""
        if lot in self._here or self._clock.monotonic_s() < self._again_at_s:
            return self._here.get(lot)
        try:
            holders = self._client.lot(lot).holders
        except RindlineError:
            self._again_at_s = self._clock.monotonic_s() + _NO_LOOK_S
            return None
        return sum(holder.mass_g for holder in holders if holder.where == "site") or None

    def expected(self, lot: str) -> Expected | None:
        """Give what a lot should weigh now, if anything is known."""
        last_g = self.of(lot)
        return None if last_g is None else expected_of_lot(last_g)


def weigh_lots(client: Client, screen: Screen, arguments: Namespace) -> int:
    """Weigh lots until the input ends; each event is on disk before it is said to be recorded."""
    last = LastMasses(client)
    weighed = 0
    try:
        with (
            Outbox(outbox_path(arguments), client) as outbox,
            open_scale(arguments) as scale,
            opened_desk(scale, outbox) as desk,
        ):
            while True:
                lot = desk.ask("Lot code (scan or type; Ctrl-C ends)").upper()
                fault = lot_code_fault(lot) if lot else None
                if not lot or fault:
                    desk.note(fault or "")
                    continue
                known_g = last.of(lot)
                before = "" if known_g is None else f", last {kilograms(known_g)} kg"
                try:
                    mass_g = desk.weigh(f"{lot}{before}: put it on", last.expected(lot))
                except SkippedError:
                    desk.note(f"{lot} was not weighed")
                    continue
                outbox.weigh(
                    lot=lot, mass_g=mass_g, scale=arguments.scale_code, site=arguments.site
                )
                last.keep(lot, mass_g)
                weighed += 1
                desk.note(f"recorded: {kilograms(mass_g)} kg  {lot}")
    except EndedError as ended:
        if ended.unanswered:
            screen.error(f"not recorded, since nobody confirmed it: {ended.unanswered}")
            return REFUSED
        return DONE
    finally:
        screen.line(f"{weighed} weighed; what is not yet sent is on disk and will be.")
