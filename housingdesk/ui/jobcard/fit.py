"""Station Fit: how much room the part gets."""

from __future__ import annotations

from PySide6.QtGui import QHideEvent
from PySide6.QtWidgets import QWidget
from typing_extensions import override

from housingdesk.geometry.freedom import Play
from housingdesk.geometry.types import SIDES
from housingdesk.proof.facts import ZoneOdds
from housingdesk.proof.wording import mm
from housingdesk.spec.edits import set_clearance, set_seal
from housingdesk.spec.edits_shell import set_play
from housingdesk.spec.models import MAX_CLEARANCE_MM, MAX_PLAY_MM
from housingdesk.spec.zones import BODY
from housingdesk.ui.entries.featurelist import FeatureList
from housingdesk.ui.entries.fits import FitChoice
from housingdesk.ui.entries.zonelist import ZoneList
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import ResultNote, Station, button
from housingdesk.ui.lengths import write_number
from housingdesk.ui.numberfield import NumberField
from housingdesk.ui.stack import allow, keep_room, show_if
from housingdesk.view3d.arrows import turn_words


class FitStation(Station):
    """Clearance and seal."""

    title = "Fit"
    order = 30

    def build(self) -> None:
        """Make the sentences."""
        self.clearance = self.drives(
            NumberField(
                least=0,
                most=MAX_CLEARANCE_MM,
                step=0.05,
                name="Clearance",
                reason="Gap between the part and the cavity wall, on each side. 0.5 mm suits most printers;\n"
                "a tight fit needs a test print. 0 cuts the part's exact form.",
            ),
            set_clearance,
        )
        self.seal = self.drives(
            NumberField(
                least=0,
                most=20,
                step=0.1,
                name="Gaps left empty",
                reason="The housing does not reach into slots, holes and other details of the part narrower "
                "than\nthis: plastic so thin would break. 1.2 mm is three lines of a usual 0.4 mm nozzle.",
            ),
            set_seal,
        )
        self.preset = FitChoice(lambda: self.spec.printer.process, self._fill)
        self.add(
            Sentence(
                "&Leave {clearance} around the part, {preset}.",
                {"clearance": self.clearance, "preset": self.preset},
            )
        )
        self.add(Sentence("Keep plastic out of the part's &gaps narrower than {seal}.", {"seal": self.seal}))
        self.measured = ResultNote("Smallest gap", "Smallest gap measured: lower 0.50 mm, upper 0.50 mm.")
        self.add(self.measured)
        self.still = self.drives(
            NumberField(
                least=0,
                most=MAX_PLAY_MM,
                step=0.1,
                name="Play that is no rattle",
                reason="How far the part may move from one end to the other before you call it a rattle.\n"
                "It changes no half; the chance of it is reckoned from the gaps and how your printer strays.",
            ),
            set_play,
        )
        self.add(Sentence("It may move &by {still} in all and is still no rattle.", {"still": self.still}))
        self.chance = ResultNote(
            "The part goes in",
            "The part goes in with over 99.9 % of prints; "
            "with over 99.9 % its gaps alone let it move no more than 1.00 mm.",
        )
        self.add(self.chance)
        self.play = ResultNote(
            "The part moves",
            "In the closed housing the part moves 0.50 mm at the most and turns ±1.2° about the shaft.",
        )
        self.add(self.play)
        self.sure = button("", "The gap with which 99 of 100 prints go in.", self._take_sure, link=True)
        self.add(self.sure)
        self.sure.hide()
        self.zones = ZoneList(self.desk)
        self.add(self.zones)
        self.features = FeatureList(self.desk, "Fit")
        self.add(self.features)

    def refresh(self) -> None:
        """Show clearance, seal and what was measured."""
        self.zones.refresh()
        self.features.refresh()
        self.clearance.show_value(self.spec.fit.clearance_mm)
        self.preset.show_clearance(self.spec.fit.clearance_mm)
        self._show_chance()
        self.play.show_result(self._play_words(), measuring=self.desk.measuring_play)
        self.seal.show_value(self.spec.fit.seal_mm)
        self.still.show_value(self.spec.play_mm)
        result = self.desk.result
        least = self.spec.fit.least_mm
        facts = result.facts if result is not None and not self.desk.stale else None
        gaps = [f"{s} {mm(facts[s].min_gap_mm, least)}" for s in SIDES if s in facts] if facts else []
        words = f"Smallest gap measured: {', '.join(gaps)}." if gaps else ""
        self.measured.show_result(words, measuring=self.desk.measuring)

    @override
    def hideEvent(self, event: QHideEvent, /) -> None:
        super().hideEvent(event)
        keep_room(self.sure, on=False)

    @override
    def urgent(self) -> QWidget | None:
        """While faces are picked on the bench, what is done with them."""
        return self.zones.tool if self.desk.faces is not None else None

    def summary(self) -> str:
        """Say the clearances."""
        fit = self.spec.fit
        zones = "".join(f", {write_number(z.clearance_mm)} around the {z.name}" for z in fit.zones)
        return f"{write_number(fit.clearance_mm)} mm around the part{zones}."

    def _play_words(self) -> str:
        result = self.desk.result
        if result is None or result.play is None or self.desk.stale:
            return ""
        now, before, about = result.play.now, result.play.before, result.play.about_words
        words = f"In the closed housing {result.play.who} {most_words(now, about)}"
        return f"{words}; without ribs and pads it {most_words(before, about)}." if before else f"{words}."

    def _body_odds(self) -> ZoneOdds | None:
        result = self.desk.result
        known = result.odds if result is not None and not self.desk.stale else ()
        return next((o for o in known if o.zone == BODY), None)

    def _show_chance(self) -> None:
        """Show how likely the part goes in on this printer, and the clearance that makes it sure."""
        found = self._body_odds()
        words = chance_words(found) if found else ""
        self.chance.show_result(words, measuring=self.desk.measuring)
        allow(self.sure, found is not None, self.clearance)
        if self.desk.measuring:
            return  # the offer keeps its place until it is known whether it still stands
        short = found is not None and found.advised_mm > self.spec.fit.clearance_mm
        if short:
            keep_room(self.sure)
        show_if(self.sure, short, self.clearance)
        if found is not None and short:
            self.sure.setText(f"Leave {write_number(found.advised_mm)} mm, so that 99 % go in")

    def _take_sure(self) -> None:
        found = self._body_odds()
        if found is not None:
            self._fill(found.advised_mm)

    def _fill(self, clearance_mm: float) -> None:
        self.desk.apply(set_clearance(clearance_mm))
        self.desk.end_drag()


def most_words(found: Play, about: str) -> str:
    """Say how far the part moves at the most, and how far it turns about what."""
    most = found.most_mm
    far = "moves freely" if most >= found.limit_mm else f"moves {write_number(most)} mm at the most"
    return f"{far if found.shifts else 'does not move'} and {turn_words(found, about)}"


def chance_words(found: ZoneOdds) -> str:
    """Say in how many prints the part goes in, and in how many it does not rattle."""
    goes_in, held = _percent(found.goes_in), _percent(found.held)
    play = f"its gaps alone let it move no more than {write_number(found.play_mm)} mm"
    return f"The part goes in with {goes_in} of prints; with {held} {play}."


def _percent(share: float) -> str:
    if share < 0.0005:
        return "less than 0.1 %"
    return "over 99.9 %" if share >= 0.9995 else f"{100 * share:.1f} %"
