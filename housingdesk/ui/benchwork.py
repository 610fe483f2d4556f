"""What is done on the bench, and what the desk is asked for it: a plane, a knob, a click, a look."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QObject

from housingdesk.finding import Finding
from housingdesk.geometry.frames import pull_rotation
from housingdesk.geometry.types import Floats
from housingdesk.spec.edits import lay_flat, set_parting_height
from housingdesk.ui.benchscene import BenchScene
from housingdesk.ui.desk import Desk
from housingdesk.ui.facepick import NOTHING
from housingdesk.ui.handledrag import HandleDrag
from housingdesk.view3d.canvas import Bench
from housingdesk.view3d.scene import GAPS, Spot

GROWN_MM = 0.01


class BenchWork(QObject):
    """Turns the bench's signals into edits, and gives the bench what it shows."""

    def __init__(self, desk: Desk, bench: Bench, scenes: BenchScene) -> None:
        super().__init__(bench)
        self._desk, self._bench, self._scenes = desk, bench, scenes
        self._handles = HandleDrag(desk)
        self._fit_due = True
        self._outer_mm: Floats | None = None  # of the halves when they were last looked at
        self._pull: str | None = None
        self._grown = self._turned = False
        self._lift_mm, self._lifting = 0.0, False
        self._saw_all = True  # before the upper half was lifted
        bench.plane_drag_began.connect(desk.begin_drag)
        bench.plane_dragged.connect(self._drag_plane)
        bench.plane_drag_ended.connect(self._end_plane_drag)
        bench.face_clicked.connect(self._click)
        bench.face_added.connect(lambda spot: self._click(spot, adding=True))
        bench.nothing_clicked.connect(self.forget_place)
        bench.spot_hovered.connect(self._hover)
        bench.view_changed.connect(self._forget_pointer)
        bench.handle_taken.connect(self._handles.take)
        bench.handle_dragged.connect(self._handles.drag)
        bench.handle_left.connect(desk.end_drag)

    def show(self, station: str, cut: tuple[float, float], *, stale: bool) -> None:
        """Show the desk's state, the whole of it when the first halves come; see ``BenchScene.scene``."""
        desk, bench = self._desk, self._bench
        bench.set_picking(desk.picking, flats=desk.faces is None)
        if desk.result is not None:
            bench.set_snaps(desk.snap_heights_mm)
        self._watch_lift()
        bench.show_scene(self._scenes.scene(station, cut, stale=stale))
        if desk.result is None:
            self._fit_due = True
            self._outer_mm = None
        elif self._fit_due:
            self._fit_due = False
            bench.fit_view()
        self._follow_growth()

    def begin(self) -> None:
        """Look at another housing from where one stands at first."""
        self._lift_mm, self._lifting = self._scenes.look.lift_mm, False
        self._bench.begin_view()

    def lift_apart(self, on: bool) -> None:
        """Lift the upper half off or put it back, all of it in view."""
        self._scenes.lift_apart(on)
        self._bench.fit_view()
        self._lifting = False

    def keep_in_view(self) -> None:
        """Go back until all is seen, where lifting has brought the upper half out of the picture."""
        if self._lifting and self._saw_all and not self._bench.sees_all:
            self._bench.fly_back()
        self._lifting = False

    def _follow_growth(self) -> None:
        """Go back until all is seen, where the halves have grown out of the picture or lie another way.

        Never while something is dragged, and not for who has turned or come closer since all was shown.
        """
        result = self._desk.result
        if result is None:
            return
        low, high = np.array([m.bounds for m in result.halves.values()]).swapaxes(0, 1)
        outer = np.array([low.min(axis=0), high.max(axis=0)])
        if self._outer_mm is not None:
            beyond = np.concatenate([self._outer_mm[0] - outer[0], outer[1] - self._outer_mm[1]])
            self._grown = self._grown or bool((beyond > GROWN_MM).any())
        pull = result.spec.parting.pull
        self._turned = self._turned or (self._outer_mm is not None and pull != self._pull)
        self._outer_mm, self._pull = outer, pull
        if self._desk.dragging:
            return
        if (self._turned or (self._grown and not self._bench.sees_all)) and self._bench.may_go_back:
            self._bench.fly_back()
        self._grown = self._turned = False

    def _watch_lift(self) -> None:
        """Note whether all was seen before the upper half is lifted: who looks at one place stays there."""
        lift_mm = self._scenes.look.lift_mm
        if lift_mm != self._lift_mm and not self._lifting:
            self._lifting, self._saw_all = True, self._bench.sees_all
        self._lift_mm = lift_mm

    def go_to(self, finding: Finding) -> None:
        """Mark the place of a finding and come near."""
        self._scenes.point_at(finding if finding.where_mm is not None else None)
        seen = self._scenes.look.mark_seen_mm
        if seen is not None:
            self._bench.fly_to(seen)

    def forget_place(self) -> None:
        """Mark no place any more."""
        if self._scenes.pointed is not None:
            self._scenes.point_at(None)

    def _drag_plane(self, z_mm: float) -> None:
        self._desk.apply(set_parting_height(z_mm))

    def _end_plane_drag(self, z_mm: float) -> None:
        self._desk.apply(set_parting_height(z_mm))
        self._desk.end_drag()

    def _click(self, spot: Spot, *, adding: bool = False) -> None:
        self._forget_pointer()
        if self._desk.faces is not None:
            self._desk.click_face(spot, adding=adding)
        elif self._desk.placing is not None:
            self._desk.place_feature(self._desk.placing, spot)
        else:
            self._lay_face(spot)

    def _lay_face(self, spot: Spot) -> None:
        part, spec = self._desk.picking_for, self._desk.spec
        if part is None or spec is None or not spot.item.startswith("part-"):
            return
        clicked = spec.parts[int(spot.item.removeprefix("part-"))]
        normal = pull_rotation(spec.parting.pull)[:3, :3].T @ np.asarray(spot.normal)
        self._desk.stop_picking()
        self._desk.apply(lay_flat(clicked.name, normal))

    def _hover(self, spot: Spot | None) -> None:
        """Say what of the part is under the pointer, and light the face that this is said of.

        Where a face is to be laid down the bench itself lights all that would lie on the ground.
        """
        self._bench.set_hint(self._gap_words(spot) or self._desk.words_at(spot))
        others = self._desk.picking_for is not None or self._desk.placing is not None
        self._scenes.hover(NOTHING if others else self._desk.faces_at(spot))

    def _forget_pointer(self) -> None:
        """Say nothing of what was under the pointer until it is looked at again."""
        self._hover(None)

    def _gap_words(self, spot: Spot | None) -> str:
        found = self._desk.gaps
        if spot is None or spot.item != GAPS or found is None or spot.face >= len(found.faces):
            return ""
        return f"gap {found.distance_mm[found.faces[spot.face]].mean():.2f} mm"
