"""What the bench is to show: the desk's state and the viewer's choices as one ``Scene``.  No widgets."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PySide6.QtCore import QObject, Signal

from housingdesk.build.results import BuildResult
from housingdesk.finding import Finding
from housingdesk.spec.models import Spec
from housingdesk.ui.benchpaint import Painter
from housingdesk.ui.desk import Desk
from housingdesk.ui.facepick import NOTHING, FacePick
from housingdesk.ui.handledrag import knobs_of
from housingdesk.ui.pointing import half_at
from housingdesk.ui.themes import Themes
from housingdesk.view3d.arrows import Arrow, play_arrows
from housingdesk.view3d.scene import Look, Scene, scene_of

_LIFT_BEFORE_HALVES_MM = 40.0
_LIFT_SHARE = 1.5  # of the housing's height, at the most


class BenchScene(QObject):
    """Keeps the viewer's choices and what the pointer is over.  ``changed`` comes with every new choice."""

    changed = Signal()

    def __init__(self, desk: Desk, themes: Themes, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk, self._themes = desk, themes
        self._chosen = Look()
        self._hovered = NOTHING
        self._pointed: Finding | None = None
        self._painter = Painter()

    @property
    def look(self) -> Look:
        """The choices as they hold now; what is picked and measured is the desk's to say."""
        desk = self._desk
        marked = self._chosen.mark_mm if self.pointed is not None else None
        return replace(
            self._chosen,
            mark_mm=marked,
            pick_faces=desk.picking_for is not None or desk.faces is not None,
            gaps_on=desk.gaps_wanted,
            gaps_where=desk.gaps_where,
            dark=self._themes.dark,
        )

    @property
    def most_lift_mm(self) -> float:
        """How far the upper half can be lifted off."""
        result = self._desk.result
        if result is None:
            return _LIFT_BEFORE_HALVES_MM
        low, high = np.asarray(result.outer_mm, float)
        return _LIFT_SHARE * float(high[2] - low[2])

    def begin(self) -> None:
        """Forget the choices made for another housing."""
        self._chosen, self._pointed = Look(), None

    def set_look(self, look: Look) -> None:
        """Choose another look; gaps are asked of the desk."""
        self._chosen = look
        if (look.gaps_on, look.gaps_where) != (self._desk.gaps_wanted, self._desk.gaps_where):
            self._desk.show_gaps(look.gaps_on, look.gaps_where)
        self.changed.emit()

    @property
    def pointed(self) -> Finding | None:
        """The finding whose place is marked, as long as it is true of the halves that are wanted."""
        proof = self._desk.proof
        if self._pointed is not None and (
            proof is None or self._desk.stale or self._pointed not in proof.findings
        ):
            self._pointed = None
        return self._pointed

    def point_at(self, finding: Finding | None) -> None:
        """Mark the place of a finding on the bench; None marks nothing any more."""
        self._pointed = finding
        if finding is not None:
            on = half_at(finding, self._desk.proof)
            self._chosen = replace(self._chosen, mark_mm=finding.where_mm, mark_on=on)
        self.changed.emit()

    def lift_apart(self, on: bool) -> None:
        """Lift the upper half off half as far as it goes, or put it back."""
        self.set_look(replace(self.look, lift_mm=self.most_lift_mm / 2 if on else 0.0))

    def hover(self, pick: FacePick) -> None:
        """Light what a click would pick."""
        if pick != self._hovered:
            self._hovered = pick
            self.changed.emit()

    def scene(self, station: str, cut: tuple[float, float], *, stale: bool) -> Scene:
        """Return the scene: the parts alone until there are halves.

        Parameters
        ----------
        station : title of the open station; its features have knobs, and Fit shows the play.
        cut : turn in degrees and shift in mm of the section's cutting line.
        stale : the halves are to be shown as out of date.
        """
        desk, look, colours = self._desk, self.look, self._themes.palette
        result = desk.result
        if result is None:
            return scene_of(desk.bare_parts, None, None, None, look)
        live = desk.live_parts
        return scene_of(
            live or result.parts,
            result.halves,
            result.outer_mm,
            _height_mm(desk.spec, result),
            look,
            stale=stale,
            cut=cut,
            paints=() if live else self._painter.paints(desk, self._hovered, colours),
            knobs=knobs_of(result, station, look.lift_mm),
            arrows=self._arrows(result) if station == "Fit" else (),
            gaps=self._painter.gaps(desk, colours) if look.gaps_on else None,
            relief=desk.relief if desk.relief_wanted else None,
            bought=result.bought,
        )

    def _arrows(self, result: BuildResult) -> tuple[Arrow, ...]:
        """Return how far the part can move, as arrows."""
        facts = result.play
        if facts is None or self._desk.halves_stale:
            return ()
        return play_arrows(facts, result.outer_mm)


def _height_mm(spec: Spec | None, result: BuildResult) -> float:
    """Return the height of the plane asked for, if the halves shown are in the same build frame."""
    if spec is None or _frame_key(spec) != _frame_key(result.spec):
        return result.parting_z_mm
    return spec.parting.height_mm


def _frame_key(spec: Spec) -> object:
    """Return what decides the build frame."""
    return spec.parts, spec.parting.pull
