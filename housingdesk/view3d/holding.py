"""What the pointer is over and what it holds: the plane's grip, a feature's knob, a knob of the cutting line.

One thing at a time.  No VTK.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from PySide6.QtCore import QObject, QPointF, Qt, Signal

from housingdesk.view3d.camera import Eye
from housingdesk.view3d.grip import Drag, Grip, grip_of
from housingdesk.view3d.handles import FeatureKnob, KnobDrag, take, under
from housingdesk.view3d.knob import CutDrag, knob_under, take_knob
from housingdesk.view3d.scene import Scene

Over = Literal["grip", "cut"] | FeatureKnob | None
AnyDrag = Drag | CutDrag | KnobDrag


class Holding(QObject):
    """Turns presses and moves into drags of what is under them.

    Signals
    -------
    plane_drag_began, plane_dragged(z_mm), plane_drag_ended(z_mm), cut_dragged(offset_mm),
    handle_taken(FeatureKnob), handle_dragged(FeatureKnob, place), handle_left() : as the bench says them.
    taken, left : something is held, and no longer.
    frame_moved : the plane's frame is to be drawn elsewhere; flat_changed : only what is drawn flat differs.

    Parameters
    ----------
    sight : the viewer and what is shown, as they are now.

    Attributes
    ----------
    picking : a click chooses something, so that only the cutting line can be held.
    snaps_mm : heights at which the plane catches, rising.
    """

    plane_drag_began = Signal()
    plane_dragged = Signal(float)
    plane_drag_ended = Signal(float)
    cut_dragged = Signal(float)
    handle_taken = Signal(object)
    handle_dragged = Signal(object, object)
    handle_left = Signal()
    taken = Signal()
    left = Signal()
    frame_moved = Signal()
    flat_changed = Signal()

    def __init__(self, sight: Callable[[], tuple[Eye, Scene]], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._sight = sight
        self.picking = False
        self.snaps_mm: tuple[float, ...] = ()
        self._drag: AnyDrag | None = None
        self._over: Over = None
        self._left_at: float | None = None  # where the plane was let go, until a scene has it there

    # What there is to draw ------------------------------------------------------------------------

    @property
    def drag(self) -> AnyDrag | None:
        """What is held."""
        return self._drag

    @property
    def over(self) -> Over:
        """What the pointer is over."""
        return self._over

    @property
    def waits_for_scene(self) -> bool:
        """Whether the plane is drawn where it was let go, and the scene does not have it there yet."""
        return self._left_at is not None

    @property
    def handle(self) -> FeatureKnob | None:
        """The feature's knob that is held, where the mouse has it, or that the pointer is over."""
        if isinstance(self._drag, KnobDrag):
            return self._drag.now
        return self._over if isinstance(self._over, FeatureKnob) else None

    @property
    def on_cut(self) -> bool:
        """Whether a knob of the cutting line is held or under the pointer."""
        return isinstance(self._drag, CutDrag) or self._over == "cut"

    @property
    def cursor(self) -> Qt.CursorShape | None:
        """The pointer's shape, None where nothing is held or could be."""
        if isinstance(self._drag, Drag) or self._over == "grip":
            return Qt.CursorShape.SizeVerCursor
        return None if self._drag is None and self._over is None else Qt.CursorShape.SizeAllCursor

    @property
    def shown_z_mm(self) -> float | None:
        """Height the plane is drawn at: where the mouse has it, else where the scene has it."""
        if isinstance(self._drag, Drag):
            return self._drag.z_mm
        if self._left_at is not None:
            return self._left_at
        plane = self._sight()[1].plane
        return plane.z_mm if plane else None

    @property
    def grip(self) -> Grip | None:
        """The plane's grip, or None without a plane."""
        (eye, scene), z_mm = self._sight(), self.shown_z_mm
        if scene.plane is None or z_mm is None:
            return None
        drag = self._drag if isinstance(self._drag, Drag) else None
        return grip_of(eye, scene.plane, z_mm, self._over == "grip", drag, self.snaps_mm)

    # What the pointer does ------------------------------------------------------------------------

    def under(self, at: QPointF) -> Over:
        """Return what could be taken at a pixel."""
        (eye, scene), pixel = self._sight(), (at.x(), at.y())
        if not self.picking:
            grip = self.grip
            if grip is not None and grip.holds(pixel):
                return "grip"
            if (handle := under(eye, scene.knobs, pixel)) is not None:
                return handle
        if scene.cut is not None and knob_under(eye, scene.cut, pixel) is not None:
            return "cut"
        return None

    def can_take(self, at: QPointF) -> bool:
        """Whether anything could be taken at a pixel."""
        return self.under(at) is not None

    def point(self, over: Over) -> None:
        """Have the pointer over something else."""
        if over != self._over:
            self._over = over
            self.flat_changed.emit()

    def take(self, at: QPointF) -> None:
        """Take hold of what is at a pixel."""
        (eye, scene), pixel = self._sight(), (at.x(), at.y())
        over, grip, z_mm = self.under(at), self.grip, self.shown_z_mm
        if over == "grip" and grip is not None and z_mm is not None:
            self._drag = Drag(grip.anchor, z_mm, z_mm, (pixel[0] - grip.at[0], pixel[1] - grip.at[1]))
            self.taken.emit()
            self.plane_drag_began.emit()
        elif over == "cut" and scene.cut is not None:
            self._drag = take_knob(eye, scene.cut, pixel)
            self.taken.emit()
        elif isinstance(over, FeatureKnob):
            self._drag = take(eye, (over,), pixel)
            self.taken.emit()
            self.handle_taken.emit(over)

    def move(self, at: QPointF, free: bool) -> None:
        """Drag what is held to a pixel; ``free`` while Shift is held: finer steps, and nothing catches."""
        drag, (eye, scene), pixel = self._drag, self._sight(), (at.x(), at.y())
        if isinstance(drag, KnobDrag):
            self._set(drag.moved(eye, pixel, free))
        elif isinstance(drag, CutDrag) and scene.cut is not None:
            self._set(drag.moved(eye, scene.cut, pixel, free))
        elif isinstance(drag, Drag) and scene.plane is not None:
            self._set(drag.moved(eye, scene.plane, self.snaps_mm, pixel, free))

    def give_back(self) -> None:
        """Move what is held to where it was taken, and let go of it there."""
        if self._drag is not None:
            self._set(self._drag.given_back())
            self.leave()

    def leave(self) -> None:
        """Let go; the plane's frame stays at its last height until the next scene says otherwise."""
        drag, self._drag = self._drag, None
        if isinstance(drag, Drag):
            plane = self._sight()[1].plane
            self._left_at = drag.z_mm if plane is not None and plane.z_mm != drag.z_mm else None
        if drag is not None:
            self.left.emit()
        if isinstance(drag, Drag):
            self.plane_drag_ended.emit(drag.z_mm)
        elif isinstance(drag, KnobDrag):
            self.handle_left.emit()

    def follow(self, scene: Scene) -> bool:
        """Take in the next scene; whether what was held is not in it and so is held no longer."""
        gone = (isinstance(self._drag, Drag) and scene.plane is None) or (
            isinstance(self._drag, CutDrag) and scene.cut is None
        )
        if gone:
            self._drag = None
        if not isinstance(self._drag, Drag):
            self._left_at = None
        return gone

    def _set(self, drag: AnyDrag) -> None:
        old, self._drag = self._drag, drag
        if isinstance(drag, Drag) and isinstance(old, Drag) and old != drag:
            self.frame_moved.emit()
            if old.z_mm != drag.z_mm:
                self.plane_dragged.emit(drag.z_mm)
        elif isinstance(drag, CutDrag) and isinstance(old, CutDrag) and old.offset_mm != drag.offset_mm:
            self.cut_dragged.emit(drag.offset_mm)
        elif isinstance(drag, KnobDrag) and isinstance(old, KnobDrag) and old.at_mm != drag.at_mm:
            self.flat_changed.emit()
            self.handle_dragged.emit(drag.knob, drag.at_mm)
