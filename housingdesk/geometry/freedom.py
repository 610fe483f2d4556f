"""The figures of play, apart from the compiled code that finds them."""

from __future__ import annotations

from dataclasses import dataclass

Range = tuple[float, float]
STILL = 0.005  # mm or degrees: what is less would be written as zero


@dataclass(frozen=True, slots=True)
class Play:
    """How far the part can move, each as (towards minus, towards plus), both zero or positive.

    Attributes
    ----------
    x_mm, y_mm, z_mm : along the axes of the frame the meshes are in (the build frame).
    turn_deg : about the axis asked for; plus is right-handed about its direction.
    turn_x_deg, turn_y_deg, turn_z_deg : about the three build axes through the same point.
    limit_mm, limit_deg : where the search ended; a figure equal to it means that no stop was met so far.
    """

    x_mm: Range
    y_mm: Range
    z_mm: Range
    turn_deg: Range
    turn_x_deg: Range
    turn_y_deg: Range
    turn_z_deg: Range
    limit_mm: float
    limit_deg: float

    def stop(self, name: str, way: int) -> float | None:
        """Return the figure of a motion one way (0 towards minus, 1 plus); None where nothing stops it."""
        found: float = getattr(self, name)[way]
        return None if found >= (self.limit_mm if name.endswith("_mm") else self.limit_deg) else found

    @property
    def most_mm(self) -> float:
        """The furthest it can shift along any axis."""
        return max(*self.x_mm, *self.y_mm, *self.z_mm)

    @property
    def shifts(self) -> bool:
        """Whether it can shift so far along any axis that a figure would show it."""
        return self.most_mm >= STILL

    @property
    def turns(self) -> bool:
        """Whether it can turn so far about the axis that a figure would show it."""
        return max(self.turn_deg) >= STILL

    @property
    def turns_freely(self) -> bool:
        """Whether nothing stops the part from turning about the axis within the limit."""
        return min(self.turn_deg) >= self.limit_deg
