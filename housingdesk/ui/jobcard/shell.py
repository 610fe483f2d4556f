"""Station Shell: the outside form."""

from __future__ import annotations

import numpy as np
from PySide6.QtWidgets import QHBoxLayout, QLabel

from housingdesk.proof.subject import PLANE_OF
from housingdesk.spec.edits import set_side, set_wall
from housingdesk.spec.edits_shell import change_shell, set_extra
from housingdesk.spec.models import HOUSING_SIDES, MAX_REACH_MM, MAX_WALL_MM, MIN_WALL_MM, HousingSide
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.entries.controls import Control
from housingdesk.ui.entries.featurelist import FeatureList
from housingdesk.ui.entries.formentry import FormEntry
from housingdesk.ui.entries.wishes import Wish
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import Station, note, show_note
from housingdesk.ui.lengths import size_words, write_number
from housingdesk.ui.numberfield import NumberField

_SIDE_WIDTH = 38
_EXTRA_MM = 2.0  # to begin with


class ShellStation(Station):
    """Form, walls, and each outside as needed, further out, or fixed."""

    title = "Shell"
    order = 40

    def build(self) -> None:
        """Make the sentences."""
        self.form = FormEntry(self.desk)
        self.add(self.form)
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
        self.flats: dict[str, Control] = {
            name: self._thickness(name) for name in ("floor_wall_mm", "roof_wall_mm")
        }
        for name, control in self.flats.items():
            what = name.split("_")[0].capitalize()
            self.add(Sentence(f"{what} thickness: {{value}}", {"value": control.widget}))
        self.add(note("How far each side reaches, in mm:"))
        self.choices: dict[HousingSide, ChoiceField] = {}
        self.reaches: dict[HousingSide, NumberField] = {}
        for side in HOUSING_SIDES:
            self._add_side(side)
        self.add(self.form.sides_note)
        self.features = FeatureList(self.desk, "Shell")
        self.add(self.features)

    def _thickness(self, name: str) -> Control:
        what = name.split("_")[0]
        wish = Wish(
            name,
            "number",
            f"thickness of the {what}",
            f"Least material of the {what}. It lies flat on the printer's bed and bends most easily.",
            MIN_WALL_MM,
            MAX_WALL_MM,
            "mm",
            optional=True,
        )
        return Control(
            wish,
            self.desk.begin_drag,
            lambda value: self.desk.apply(change_shell(**{name: value})),
            self.desk.end_drag,
            free="as the wall",
        )

    def _add_side(self, side: HousingSide) -> None:
        choice = ChoiceField(
            (("free", "as needed"), ("extra", "further out"), ("fixed", "fixed")),
            name=f"{side.capitalize()} side",
            reason="As needed: clearance and wall decide how far the housing reaches on this side.\n"
            "Further out: so much more than that.\n"
            "Fixed: it stays exactly where it is now, or at the distance you type.",
        )
        reach = self.drives(
            NumberField(
                least=-MAX_REACH_MM,
                most=MAX_REACH_MM,
                step=0.5,
                show_unit=False,
                name=f"{side.capitalize()} side further out",
                reason="Fixed: how far the outside lies beyond the part's outermost point on this side,\n"
                "a shaft's end included; a number below 0 stops short of it, so that a shaft sticks out.\n"
                "Further out: how far beyond what clearance and wall need.",
            ),
            lambda value: set_side(side, value) if choice.key == "fixed" else set_extra(side, value),
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
        if key == "fixed":
            self.desk.apply(set_side(side, round(self._now_mm(side), 2)))
        else:
            self.desk.apply(set_extra(side, _EXTRA_MM if key == "extra" else 0.0))

    def _now_mm(self, side: HousingSide) -> float:
        """Return how far a side lies beyond the part now, or has to where there are no halves yet."""
        result, shell = self.desk.result, self.spec.shell
        if result is None or self.desk.halves_stale:
            return self.spec.fit.clearance_mm + shell.wall_at_mm(side) + shell.extra_mm(side)
        axis, end = PLANE_OF[side]
        ends = [float(part.bounds[end, axis]) for part in result.parts]
        outer = float(result.outer_mm[end, axis])
        return outer - max(ends) if end else min(ends) - outer

    def refresh(self) -> None:
        """Show form, walls and sides."""
        shell = self.spec.shell
        self.features.refresh()
        self.form.show_form(shell.form)
        self.wall.show_value(shell.wall_mm)
        for name, control in self.flats.items():
            control.show(getattr(shell, name))
        for side in HOUSING_SIDES:
            reach, extra = shell.reach_mm(side), shell.extra_mm(side)
            key = "fixed" if reach is not None else "extra" if extra > 0 else "free"
            self.choices[side].show_key(key)
            field = self.reaches[side]
            field.setVisible(key != "free")
            field.set_limits(-MAX_REACH_MM if key == "fixed" else 0.0, MAX_REACH_MM)
            if key != "free":
                field.show_value(reach if reach is not None else extra)

    def summary(self) -> str:
        """Say form, wall and outer size, bosses and feet included."""
        words = f"{self.spec.shell.form.TITLE}, {write_number(self.spec.shell.wall_mm)} mm wall"
        if self.desk.result is None:
            return f"{words}."
        boxes = np.array([half.bounds for half in self.desk.result.halves.values()])
        x, y, z = (boxes[:, 1].max(axis=0) - boxes[:, 0].min(axis=0)).tolist()
        return f"{words}, {size_words((x, y, z))} in all."
