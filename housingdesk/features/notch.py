"""A notch at the parting edge, to pry the halves apart."""

from __future__ import annotations

from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features import places as ground
from housingdesk.features.edge import THIN_MM
from housingdesk.features.feature import Feature, Station
from housingdesk.features.records import Joint
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats

STEP_MM = 2.0  # places along the edge are tried so far apart
PAST_MM = 1.0  # the cut reaches this far past the outside


class Notch(Feature):
    """A recess under the upper half's edge, for a screwdriver."""

    TITLE: ClassVar[str] = "Pry notch"
    STATION: ClassVar[Station] = "Joints"
    SENTENCE: ClassVar[str] = (
        "Cut a notch {width_mm} wide, {depth_mm} deep and {height_mm} high into the {notch_in} half's edge."
    )
    ORDER: ClassVar[int] = 72

    kind: Literal["notch"] = "notch"
    width_mm: float = Field(default=8.0, ge=2, le=60, title="width of the notch",
                            description="A little wider than your screwdriver.")  # fmt: skip
    depth_mm: float = Field(default=1.2, ge=0.5, le=20, title="depth of the notch",
                            description="Deeper holds better, where the wall is thick enough.")  # fmt: skip
    height_mm: float = Field(default=1.2, ge=0.4, le=10, title="height of the notch",
                             description="As thick as the screwdriver's blade.")  # fmt: skip
    notch_in: Literal["lower", "upper"] = Field(
        default="lower",
        title="half with the notch",
        description="The screwdriver goes in at this half's edge.",
    )
    at_mm: ground.Place | None = Field(
        default=None, title="place of the notch",
        description="As needed: nearest to the middle of the right side where the wall has room.",
    )  # fmt: skip

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self:
        """Propose a notch in the edge nearest to where the user clicked."""
        return cls(at_mm=(float(point_mm[0]), float(point_mm[1])))

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob at its own place."""
        if self.at_mm is None:
            return ()
        return (Handle("notch", (*self.at_mm, site.parting_z_mm), label=self.name, on=self.notch_in),)

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the notch dragged along the edge."""
        return self.model_copy(update={"at_mm": (round(float(to_mm[0]), 3), round(float(to_mm[1]), 3))})

    def build(self, site: Site) -> Work:
        """Cut the notch from outside."""
        z, up = site.parting_z_mm, 1.0 if self.notch_in == "upper" else -1.0
        form = site.form.section_at(z)
        taken = ground.blocked(site)
        keep_off = taken.grown(THIN_MM)
        tried = [(spot, self._area(spot, outward)) for spot, outward in _edge(form, self.at_mm)]
        for spot, area in tried:
            if keep_off.touches(area):
                continue
            low, high = sorted((z - up * PAST_MM, z + up * self.height_mm))
            cut = Solid.prism(area, low, high)
            figures = {"width_mm": self.width_mm, "depth_mm": self.depth_mm, "height_mm": self.height_mm}
            return Work(
                cut={self.notch_in: (cut,)},
                keep_out=(
                    Solid.prism(area, min(z, z + up * self.height_mm), max(z, z + up * self.height_mm)),
                ),
                joints=(Joint(self.name, "notch", figures | {"x_mm": spot[0], "y_mm": spot[1]}),),
                handles=(Handle("notch", (*spot, z), label=self.name, on=self.notch_in),),
            )
        raise SpecError("The wall is too thin for a notch anywhere; make it less deep, or raise the wall.")

    def _area(self, spot: ground.Place, outward: Floats) -> Outline:
        """Return the notch's area: across the edge at a place, (2,) outward."""
        half = self.width_mm / 2
        turn = float(np.degrees(np.arctan2(outward[1], outward[0])))
        return Outline.rectangle((-self.depth_mm, -half), (PAST_MM, half)).turned(turn).moved(spot)


def _edge(form: Outline, near: tuple[float, float] | None) -> list[tuple[ground.Place, Floats]]:
    """Return places along the outer edge with their outward directions, the best first."""
    out: list[tuple[ground.Place, Floats]] = []
    for loop in form.filled().loops:
        way = np.roll(loop, -1, axis=0) - loop
        long = np.linalg.norm(way, axis=1)
        for start, step, size in zip(loop, way, long, strict=True):
            if size < 1e-6:
                continue
            for share in (np.arange(max(1, round(size / STEP_MM))) + 0.5) / max(1, round(size / STEP_MM)):
                x, y = (start + share * step).tolist()
                out.append(((x, y), np.array([step[1], -step[0]]) / size))
    wanted = near if near is not None else (float(form.bounds[1, 0]), float(form.bounds[:, 1].mean()))
    return sorted(out, key=lambda item: float(np.hypot(item[0][0] - wanted[0], item[0][1] - wanted[1])))
