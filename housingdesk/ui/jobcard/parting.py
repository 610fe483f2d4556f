"""Station Parting: where the halves meet and which way the upper one comes off."""

from __future__ import annotations

from collections.abc import Hashable
from typing import cast

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from housingdesk.build.results import PlaneProposal
from housingdesk.geometry.types import SIDES, Side
from housingdesk.proof.wording import volume
from housingdesk.spec.edits import set_parting_height, set_pull
from housingdesk.spec.edits_shell import keep_material
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import ResultNote, Station, button, note, show_note
from housingdesk.ui.numberfield import NumberField
from housingdesk.ui.planes import TURNED, WAYS, PlaneButton, Way, compared, misfits, pull_of, way_of
from housingdesk.ui.stack import allow, show_if, take_out
from housingdesk.view3d.scene import height_label

_MOST_SHOWN = 6


class PartingStation(Station):
    """Height, pull and proposals."""

    title = "Parting"
    order = 20

    def build(self) -> None:
        """Make the sentences."""
        self.height_field = self.drives(
            NumberField(
                least=0.01,
                most=1000,
                step=0.5,
                name="Parting plane height",
                reason="Height of the parting plane above the part's lowest point. At the widest place\n"
                "both halves go on straight. You can also drag the plane's grip on the bench.",
            ),
            set_parting_height,
        )
        self.pull = ChoiceField(
            WAYS.items(),
            name="Pull direction",
            reason="Which way of the picture the upper half comes off. Choose another one, and the bench is\n"
            "turned until that way points straight up.",
        )
        self.pull.chosen.connect(self._lift_off)
        self.add(
            Sentence(
                "Part &it {height} up, and lift the upper half off {pull}.",
                {"height": self.height_field, "pull": self.pull},
            )
        )
        self.misfits = note()
        self.misfits.setObjectName("caution")
        self.add(self.misfits)
        self.relief = ResultNote("Whether the part goes straight in")
        self.add(self.relief)
        self.look = button(
            "Show what is cut for that",
            "Tints on the bench what is taken from each half only so that the part can go in.",
            lambda: self.desk.show_relief(not self.desk.relief_wanted),
            link=True,
        )
        self.add(self.look)
        self.look.hide()
        self.ways: dict[Side, ChoiceField] = {side: self._way(side) for side in SIDES}
        self._ways_line = Sentence(
            "In the lower half {lower}, in the upper half {upper}",
            {"lower": self.ways["lower"], "upper": self.ways["upper"]},
        )
        self.add(self._ways_line)
        self._ways_line.hide()
        self.suggest = button(
            "Suggest planes",
            "Tries every direction and shows the planes that need least extra room cut.",
            self.desk.ask_proposals,
        )
        self.column.addWidget(self.suggest, 0, Qt.AlignmentFlag.AlignLeft)
        self._list = QWidget()
        self._rows = QVBoxLayout(self._list)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setSpacing(4)
        self.add(self._list)
        self._list.hide()
        self.try_note = note("What is placed already may not fit a plane: choose one, and it is said here.")
        self.add(self.try_note)
        self._shown: tuple[PlaneProposal, ...] = ()
        self._tried: dict[tuple[str, float], str] = {}  # what does not fit planes tried, by pull and height
        self._tried_with: Hashable = None
        self.proposal_buttons: list[PlaneButton] = []

    def refresh(self) -> None:
        """Show the plane, the relief it takes and the proposals."""
        parting = self.spec.parting
        height = self.desk.parts_height_mm
        if height > 0.05:
            self.height_field.set_limits(0.01, round(height - 0.01, 2))
        self.height_field.show_value(parting.height_mm)
        self.pull.show_key("up")
        words = "" if self.desk.stale else self._relief_words()
        measuring = self.desk.measuring
        self.relief.show_result(words, measuring=measuring)
        allow(self.look, not measuring, self.height_field)
        self.look.setText("Hide what is cut" if self.desk.relief_wanted else "Show what is cut for that")
        kept = self.spec.fit.keep_material
        if not measuring:  # until then what is offered keeps its place
            show_if(self.look, self.desk.relief_wanted or "relief" in words, self.height_field)
            self._ways_line.setVisible(bool(kept) or "relief" in words or "not go" in words)
        for side, way in self.ways.items():
            way.show_key("keep" if side in kept else "cut")
        allow(self.suggest, not self.desk.proposing, self)
        self.suggest.setText("Looking for planes…" if self.desk.proposing else "Suggest planes")
        if self._shown != self.desk.proposals:
            self._show_proposals(self.desk.proposals)
        taken = False
        tried = self._what_does_not_fit()
        for made, proposal in zip(self.proposal_buttons, self._shown, strict=False):
            same = proposal.pull == parting.pull and abs(proposal.height_mm - parting.height_mm) < 0.005
            made.setChecked(same)
            turned = TURNED[way_of(proposal.pull, parting.pull)]
            made.show_where(f"{turned}, parted {height_label(proposal.height_mm)} up")
            made.show_misfits(tried.get((proposal.pull, round(proposal.height_mm, 2)), ""))
            taken = taken or same
        here = tried.get((parting.pull, round(parting.height_mm, 2)), "")
        if not self.desk.halves_stale:  # until then what is said keeps its place
            show_note(self.misfits, "" if taken else here)
        self.try_note.setVisible(bool(self._shown) and any(f.on for f in self.spec.features))

    def _lift_off(self, key: str) -> None:
        self.pull.show_key("up")  # the bench turns, and then that is how it lies
        self.desk.apply(set_pull(pull_of(cast(Way, key), self.spec.parting.pull)))

    def _what_does_not_fit(self) -> dict[tuple[str, float], str]:
        """Return what does not fit the planes tried so far, as long as nothing but the plane has changed."""
        spec, result = self.spec, self.desk.result
        housing = (spec.parts, spec.fit, spec.shell, spec.features)
        if housing != self._tried_with:
            self._tried, self._tried_with = {}, housing
        if result is not None and not self.desk.halves_stale:
            parting = result.spec.parting
            self._tried[parting.pull, round(parting.height_mm, 2)] = misfits(result)
        return self._tried

    def _way(self, side: Side) -> ChoiceField:
        made = ChoiceField(
            (("cut", "cut a way in"), ("keep", "keep the material")),
            name=f"Way into the {side} half",
            reason="Cut: room is made so that the part can be laid straight in. Keep: the wall stays close\n"
            "to the part there, and the part may not go in; the proof then says so.",
        )
        made.setMaximumWidth(190)
        made.chosen.connect(lambda key: self.desk.apply(keep_material(side, key == "keep")))
        return made

    def _relief_words(self) -> str:
        result = self.desk.result
        if result is None or result.facts is None:
            return ""
        relief = sum(f.relief_mm3 for f in result.facts.values())
        shut = [side for side in SIDES if side in result.facts and not result.facts[side].clear]
        if shut:
            return f"The part does not go straight into the {' and the '.join(shut)} half."
        if relief < 0.5:
            return "The part goes straight in, with nothing cut for it."
        return f"The part goes straight in; {volume(relief)} of extra room (relief) are cut for that."

    def _show_proposals(self, proposals: tuple[PlaneProposal, ...]) -> None:
        for old in self.proposal_buttons:
            take_out(old, self)
        shown = proposals[:_MOST_SHOWN]
        words = zip(shown, compared(shown), strict=True)
        self.proposal_buttons = [self._proposal_button(p, why) for p, why in words]
        for made in self.proposal_buttons:
            self._rows.addWidget(made)
        self._shown = proposals
        self._list.setVisible(bool(proposals))

    def _proposal_button(self, proposal: PlaneProposal, why: str) -> PlaneButton:
        pull, height = proposal.pull, proposal.height_mm
        made = PlaneButton(why)
        made.setToolTip("\n".join((proposal.reason, *proposal.notes)))
        made.clicked.connect(lambda: self.desk.apply(set_pull(pull, height)))
        return made

    def summary(self) -> str:
        """Say where the plane is."""
        return f"{height_label(self.spec.parting.height_mm)} up from the part's lowest point."
