"""The viewer: moved by hand, flown to a place, and at rest again.  No VTK."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QEasingCurve, QObject, QTimer, QVariantAnimation, Signal

from housingdesk.geometry.types import Floats
from housingdesk.view3d.camera import Eye, Standpoint, View
from housingdesk.view3d.cutting import Point

REST_MS = 160  # nothing has moved for this long: draw finely again
FLIGHT_MS = 260
_NEAR = 0.35  # of the distance from which everything is seen


class Flight(QObject):
    """Holds the view and says how it changes; bounds are (2, 3) corners in mm around what is to be seen.

    Signals
    -------
    view_changed : there is another view.
    stirred : something moves; what is drawn may be coarse until ``rested``.

    Parameters
    ----------
    size : width and height of the picture, logical pixels.
    busy : whether a hand still holds something, so that there is no rest yet.
    """

    view_changed = Signal()
    stirred = Signal()
    rested = Signal()

    def __init__(
        self, size: Callable[[], tuple[int, int]], busy: Callable[[], bool], parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._view = View()
        self._by_hand = False
        self._size, self._busy = size, busy
        self._ends = (self._view, self._view)
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(self._come_to_rest)
        self._way = QVariantAnimation(self)
        self._way.setStartValue(0.0)
        self._way.setEndValue(1.0)
        self._way.setDuration(FLIGHT_MS)
        self._way.setEasingCurve(QEasingCurve.Type.InOutCubic)
        self._way.valueChanged.connect(self._fly_on)

    @property
    def eye(self) -> Eye:
        """The viewer now, and the picture's size."""
        width, height = self._size()
        return Eye(self._view, max(width, 1), max(height, 1))

    @property
    def shows_all(self) -> bool:
        """Whether the view is one that was chosen to show everything, and no hand has changed it since."""
        return not self._by_hand

    # By hand --------------------------------------------------------------------------------------

    def turn(self, dx: float, dy: float) -> None:
        """Turn by a drag of so many pixels."""
        self._move(self._view.turned(dx, dy))

    def shove(self, dx: float, dy: float) -> None:
        """Shift by a drag of so many pixels."""
        self._move(self.eye.shifted(dx, dy))

    def come_closer(self, point_mm: Point, factor: float) -> None:
        """Come closer to a place, which stays where it is in the picture."""
        self._move(self._view.closer(point_mm, factor))

    # By itself ------------------------------------------------------------------------------------

    def begin(self) -> None:
        """Stand where one stands at first."""
        self._by_hand = False
        self._fly(View(), at_once=True)

    def fit(self, bounds_mm: Floats, *, at_once: bool = True) -> None:
        """See everything, from where the viewer looks."""
        self._by_hand = False
        self._fly(self.eye.fitted(bounds_mm), at_once)

    def fly_to(self, point_mm: Point, bounds_mm: Floats, *, at_once: bool = False) -> None:
        """Bring a place to the middle and come near, turned only where it lies on the far side."""
        self._by_hand = True  # who looks at one place stays there
        near = _NEAR * self.eye.fitted(bounds_mm).distance_mm
        distance = min(self._view.distance_mm, near)
        turned = self._view.facing(point_mm, bounds_mm)
        self._fly(replace(turned, focus_mm=point_mm, distance_mm=distance), at_once)

    def look_from(self, standpoint: Standpoint, bounds_mm: Floats, *, at_once: bool = False) -> None:
        """See everything from a named side."""
        self._by_hand = False
        turned = replace(self.eye, view=self._view.towards(standpoint))
        self._fly(turned.fitted(bounds_mm), at_once)

    # Moving and resting ---------------------------------------------------------------------------

    def stir(self) -> None:
        """End a flight where it is: a hand has taken something."""
        self._way.stop()
        self.stirred.emit()

    def rest_soon(self) -> None:
        """Come to rest, unless something moves meanwhile."""
        self._rest.start()

    def stop(self) -> None:
        """End flight and waiting, for good."""
        self._way.stop()
        self._rest.stop()

    def _jump(self, view: View) -> None:
        if view != self._view:
            self._view = view
            self.view_changed.emit()

    def _move(self, view: View) -> None:
        self._by_hand = True
        self.stir()
        self.rest_soon()
        self._jump(view)

    def _fly(self, view: View, at_once: bool) -> None:
        self._way.stop()
        if at_once:
            self._jump(view)
        else:
            self._ends = (self._view, view)
            self._way.start()

    def _fly_on(self, share: float) -> None:
        start, end = self._ends
        if share < 1.0:
            self.stirred.emit()
            self._jump(start.between(end, share))
        else:
            self._jump(end)
            self.rested.emit()

    def _come_to_rest(self) -> None:
        if self._busy():
            self._rest.start()
        else:
            self.rested.emit()
