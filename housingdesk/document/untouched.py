"""Which of plane and zones are still as the program proposed them, so that it may propose them anew."""

from __future__ import annotations

from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from housingdesk.spec.zones import ZoneSpec


class Untouched:
    """Plane and zones as last proposed, carried along where they follow a part's own change.

    What the user changes differs from these and is the user's; taken back, it is the program's again.  A part
    that was turned or moved has another way in, so the plane counts as changed.
    """

    def __init__(self) -> None:
        self._plane: tuple[PartingSpec, tuple[PartSpec, ...]] | None = None
        self._zones: tuple[ZoneSpec, ...] | None = None

    def begin(self, spec: Spec, *, plane: bool = True) -> None:
        """Take the zones of a spec for proposed, and its plane."""
        self._zones = spec.fit.zones
        if plane:
            self._plane = spec.parting, spec.parts

    def forget(self) -> None:
        """Take all for the user's."""
        self._plane = self._zones = None

    def follow(self, old: Spec, new: Spec) -> None:
        """Go along with what another form of the parts, lying the same way, did to plane and zones."""
        if old.parts == new.parts:
            return
        if self.has_plane(old) and _lie_alike(old.parts, new.parts):
            self._plane = new.parting, new.parts
        if self.has_zones(old):
            self._zones = new.fit.zones

    def has_plane(self, spec: Spec) -> bool:
        """Whether plane and pull are the program's."""
        return (
            self._plane is not None
            and spec.parting == self._plane[0]
            and _lie_alike(spec.parts, self._plane[1])
        )

    def has_zones(self, spec: Spec) -> bool:
        """Whether the zones are the program's."""
        return spec.fit.zones == self._zones


def _lie_alike(some: tuple[PartSpec, ...], others: tuple[PartSpec, ...]) -> bool:
    """Whether the parts that both have lie the same way."""
    return all(a.placement == b.placement for a, b in zip(some, others, strict=False))
