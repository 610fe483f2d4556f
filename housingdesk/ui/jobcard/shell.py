"""Station Shell: the outside form."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QLabel

from housingdesk.spec.edits import set_side, set_wall
from housingdesk.spec.models import HOUSING_SIDES, MAX_REACH_MM, MAX_WALL_MM, MIN_WALL_MM, HousingSide
from housingdesk.ui.entries.featurelist import FeatureList
from housingdesk.ui.fields import ChoiceField, NumberField
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import Station, note, show_note
from housingdesk.ui.lengths import size_words, write_number

_SIDE_WIDTH = 38


class ShellStation(Station):
    """Wall, and each outside fixed or as needed."""

    title = "Shell"
    order = 40

    def build(self) -> None:
        """Make the sentences."""
        self.wall = self.drives(
            NumberField(
                least=MIN_WALL_MM,
                most=MAX_WALL_MM,
                step=0.2,
                name="Wall",
                reason="Least material between the cavity and the outside. 2.4 mm is six lines of a usual\n"
                "0.4 mm nozzle: stiff, and still quick to print.",
            ),
            set_wall,
        )
        self.add(Sentence("&Keep at least {wall} of wall.", {"wall": self.wall}))
        self.choices: dict[HousingSide, ChoiceField] = {}
        self.reaches: dict[HousingSide, NumberField] = {}
        for side in HOUSING_SIDES:
            self._add_side(side)
        self.add(note("A fixed side ignores the wall. Less than nothing lets the part stick out there."))
        self.features = FeatureList(self.desk, "Shell")
        self.add(self.features)

    def _add_side(self, side: HousingSide) -> None:
        choice = ChoiceField(
            (("free", "as needed"), ("fixed", "fixed")),
            name=f"{side.capitalize()} side",
            reason="As needed: clearance and wall decide how far the housing reaches on this side.\n"
            "Fixed: it reaches exactly this far beyond the part.",
        )
        reach = self.drives(
            NumberField(
                least=-MAX_REACH_MM,
                most=MAX_REACH_MM,
                step=0.5,
                name=f"{side.capitalize()} side beyond the part",
                reason="How far the outside lies beyond the part's outermost point on this side.",
            ),
            lambda value: set_side(side, value),
        )
        choice.chosen.connect(lambda key: self._choose(side, key))
        self.choices[side], self.reaches[side] = choice, reach
        row = QHBoxLayout()
        row.setSpacing(5)
        label = QLabel(side.capitalize())
        label.setBuddy(choice)
        label.setFixedWidth(_SIDE_WIDTH)
        for widget in (label, choice, reach):
            row.addWidget(widget)
        row.addStretch(1)
        self.column.addLayout(row)
        complaint = note()
        complaint.setObjectName("complaint")
        show_note(complaint, "")
        reach.complained.connect(lambda words: show_note(complaint, words))
        self.add(complaint)

    def _choose(self, side: HousingSide, key: str) -> None:
        if key == "free":
            self.desk.apply(set_side(side, None))
        elif self.spec.shell.reach_mm(side) is None:
            needed = self.spec.fit.clearance_mm + self.spec.shell.wall_mm
            self.desk.apply(set_side(side, round(needed, 2)))

    def refresh(self) -> None:
        """Show the wall and the sides."""
        self.features.refresh()
        self.wall.show_value(self.spec.shell.wall_mm)
        for side in HOUSING_SIDES:
            reach = self.spec.shell.reach_mm(side)
            self.choices[side].show_key("free" if reach is None else "fixed")
            self.reaches[side].setVisible(reach is not None)
            if reach is not None:
                self.reaches[side].show_value(reach)

    def summary(self) -> str:
        """Say wall and outer size."""
        words = f"{write_number(self.spec.shell.wall_mm)} mm wall"
        if self.desk.result is None:
            return f"{words}."
        low, high = self.desk.result.outer_mm
        size = (float(high[0] - low[0]), float(high[1] - low[1]), float(high[2] - low[2]))
        return f"{words}, {size_words(size)}."
