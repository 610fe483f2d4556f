"""A clip for a 35 mm rail; it stands on the bed with the lower half, so its spring bends in the layers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature
from housingdesk.features.opening import FRAMES, Frame, face_of, triple
from housingdesk.features.plate import Upright, frame_of, side_knob, standing
from housingdesk.features.records import Joint
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats
from housingdesk.standards.plastics import plastics
from housingdesk.standards.rails import Rail, rails

POST_MM = 4.0  # thickness of hook posts
LEG_MM = 7.5  # from the middle of the spring to the hook's face
LIP_MM = 1.5  # how far a hook reaches behind the rail's edge
LIP_THICK_MM = 2.4
SHEET_ROOM_MM = 0.3  # between rail and hook
ROOT_MM = 12.0  # of the spring's root along the rail's width
TAB_MM = 5.0  # beyond the hook, for a screwdriver


@dataclass(frozen=True, slots=True)
class Spring:
    """The clip's bending beam.

    Attributes
    ----------
    length_mm, thick_mm, wide_mm : of the beam; wide along the layers' stack.
    arm_mm : from the beam's middle to the hook.
    lift_mm : how far the hook must give way.
    """

    length_mm: float
    thick_mm: float
    wide_mm: float
    arm_mm: float
    lift_mm: float

    @property
    def turn_rad(self) -> float:
        """Turn of the beam's end that moves the hook by the lift."""
        return self.lift_mm / self.arm_mm

    @property
    def strain(self) -> float:
        """Strain of the outer fibre: h turn / (2 L), for the beam is bent to a round of radius L / turn."""
        return self.thick_mm * self.turn_rad / (2 * self.length_mm)

    @property
    def sway_mm(self) -> float:
        """How far the beam's end moves towards the housing: L turn / 2."""
        return self.length_mm * self.turn_rad / 2

    def force_n(self, modulus_gpa: float) -> float:
        """Return the force on the hook: E I turn / (L arm), I = b h^3 / 12."""
        inertia = self.wide_mm * self.thick_mm**3 / 12
        return modulus_gpa * 1000 * inertia * self.turn_rad / (self.length_mm * self.arm_mm)


class RailClip(Feature):
    """A fixed hook and a springing one, for a top hat rail."""

    TITLE = "clip for 35 mm rail"
    STATION = "Mounts"
    SENTENCE = (
        "Clip it onto a 35 mm rail by its {side}, {across_mm} from the middle, width of the clip: {wide_mm}; "
        "spring {spring_mm} thick, {play_mm} of play."
    )
    ORDER = 70

    kind: Literal["rail_clip"] = "rail_clip"
    side: Upright = Field(default="back", title="side", description="The side that lies against the rail.")
    across_mm: float = Field(
        default=0.0,
        ge=-500,
        le=500,
        title="across",
        description="Middle of the rail, from the part's middle.",
    )
    wide_mm: float | None = Field(
        default=None,
        ge=3,
        le=200,
        title="width",
        description="Along the rail, from the floor up. As needed: 12 mm, or up to the parting plane.",
    )
    spring_mm: float = Field(
        default=2.0, ge=0.8, le=8, title="spring", description="Thickness; thinner clips on more easily."
    )
    play_mm: float = Field(
        default=0.2,
        ge=0,
        le=1,
        title="play",
        description="Between rail and hooks, in all. The rail's figures (35 wide, 1 thick, 7.5 high, IEC "
        "60715) are from memory: measure yours.",
    )

    def build(self, site: Site) -> Work:
        """Add the clip to the lower half.

        Raises
        ------
        SpecError : the side has no room for the clip's root, or the spring cannot give way.
        """
        rail, frame = rails()["TH 35-7.5"], frame_of(self.side)
        floor, plane = site.base_z_mm("lower"), site.parting_z_mm
        wide = min(12.0, plane - floor) if self.wide_mm is None else self.wide_mm
        if wide > plane - floor + 1e-9:
            raise SpecError(
                f"The clip reaches over the parting plane; make it {plane - floor:.1f} mm wide or less."
            )
        half = (rail.width_mm + self.play_mm) / 2
        root = (half + POST_MM - ROOT_MM, half + POST_MM)
        spring = Spring(root[0] + half, self.spring_mm, wide, LEG_MM, LIP_MM + self.play_mm / 2)
        near = self._face_mm(site, frame, root, (floor + 0.02, floor + wide - 0.02), whole=True)
        span = (-half - POST_MM - TAB_MM, root[1])
        face = self._face_mm(site, frame, span, (floor, site.base_z_mm("upper")), whole=False)
        outline = self._profile(rail, spring, half, root)
        deep = face - near + site.wall_mm
        hold = Outline.rectangle((root[0], -deep), (root[1], 0.0))
        turn = np.eye(4)
        turn[:3, :3] = np.array([frame.u, frame.out, [0.0, 0.0, 1.0]]).T
        turn[:3, 3] = self.across_mm * frame.u + face * frame.out
        clip = Solid.prism(outline | hold, floor, floor + wide).moved(turn)
        at = self.across_mm * frame.u + face * frame.out + np.array([0.0, 0.0, floor + wide / 2])
        seat = self._seat_mm(rail, spring)
        opening = 2 * half
        figures = {
            "opening_mm": opening,
            "rail_width_mm": rail.width_mm,
            "strain_pct": 100 * spring.strain,
            "standoff_mm": seat,
        }
        far = max(50.0, float(np.ptp(site.outer_mm[:, 2])))
        rail_body = Outline.rectangle((-half, seat), (half, seat + rail.height_mm))
        rail_way = Solid.prism(rail_body, floor - far, floor + 2 * far).moved(turn)
        sway = Outline.rectangle((-half - POST_MM - TAB_MM, 0.05), (root[0], seat))
        moving = Solid.prism(sway, floor, floor + wide).moved(turn)
        for body in standing(site, floor):
            if (body & (rail_way | moving)).volume_mm3 > 0.1:
                raise SpecError(
                    "Something on this side stands where the rail or the clip's spring goes; move one of "
                    "them."
                )
        return Work(
            add={"lower": (clip,)},
            needs=(clip,),
            keep_out=(rail_way,),
            joints=(Joint(self.name, self.kind, figures),),
            findings=tuple(self._findings(site, rail, spring, triple(at))),
            handles=(Handle("rail", triple(at), triple(frame.out), "the clip"),),
        )

    # --- its form -----------------------------------------------------------------------------------

    def _gap_mm(self, spring: Spring) -> float:
        """Return the room behind the spring, which sways towards the housing as the hook gives way."""
        return max(1.5, spring.sway_mm + 0.5)

    def _seat_mm(self, rail: Rail, spring: Spring) -> float:
        """Return how far from the housing's face the rail lies."""
        hook = self._gap_mm(spring) + spring.thick_mm / 2 + spring.arm_mm
        return hook - rail.thickness_mm - SHEET_ROOM_MM

    def _profile(self, rail: Rail, spring: Spring, half: float, root: tuple[float, float]) -> Outline:
        """Return the clip seen along the rail: across it, and out from the housing's face."""
        gap, seat = self._gap_mm(spring), self._seat_mm(rail, spring)
        hook = seat + rail.thickness_mm + SHEET_ROOM_MM
        top = hook + LIP_THICK_MM
        block = Outline.rectangle((root[0], 0.0), (root[1], seat))
        fixed = Outline.polygon(
            [
                (half, seat - 0.1),
                (root[1], seat - 0.1),
                (root[1], top),
                (half, top),
                (half - LIP_MM, top - 0.6),
                (half - LIP_MM, hook),
                (half, hook),
            ]
        )
        end = -half - POST_MM
        beam = Outline.rectangle((end - TAB_MM, gap), (root[0] + 0.1, gap + spring.thick_mm))
        # The hook's outer side slopes at 45 degrees, so that the rail pushes it aside.
        leg = Outline.polygon(
            [
                (end, gap),
                (-half + 3.0, gap),
                (-half + 3.0, seat),
                (-half, seat),
                (-half, hook),
                (-half + LIP_MM, hook),
                (-half + LIP_MM, hook + 0.6),
                (-half + LIP_MM - (LIP_THICK_MM - 0.6), top),
                (end, top),
            ]
        )
        return Outline.union([block, fixed, beam, leg])

    def _face_mm(
        self,
        site: Site,
        frame: Frame,
        across: tuple[float, float],
        heights: tuple[float, float],
        *,
        whole: bool,
    ) -> float:
        """Return where the side's outermost face is, between two places across the clip and two heights.

        Raises
        ------
        SpecError : there is none over all of the way across where ``whole`` asks for it.
        """
        low, high = (self.across_mm + a for a in across)
        far = float(np.abs(site.outer_mm).max()) + 100.0
        probe = frame.body(Outline.rectangle((low, heights[0]), (high, heights[1])), 0.0, far)
        met = probe & site.form
        seen = frame.seen(met.mesh().vertices)
        if met.is_empty or (whole and np.ptp(seen[:, 0]) < 0.9 * (high - low)):
            raise SpecError("The side has no face where the clip's root would stand; move the clip along it.")
        return float(seen[:, 2].max())

    # --- words --------------------------------------------------------------------------------------

    def _findings(
        self, site: Site, rail: Rail, spring: Spring, at: tuple[float, float, float]
    ) -> list[Finding]:
        known = plastics().get(site.material)
        most = known.strain_pct.low if known is not None and known.strain_pct is not None else None
        modulus = known.modulus_gpa.middle if known is not None and known.modulus_gpa is not None else None
        force = "" if modulus is None else f", {spring.force_n(modulus):.0f} N to snap on"
        bent = 100 * spring.strain
        too_much = most is not None and bent > most
        limit = "no limit is known for it" if most is None else f"{most:g} % is allowed for {site.material}"
        return [
            Finding(
                "rail-clip-strain",
                "fail" if too_much else "pass",
                f"The spring of {self.name} is bent by {bent:.2f} %{force}; {limit}.",
                "Make the spring thinner, or print in a tougher plastic." if too_much else "",
                at,
            ),
            Finding(
                "rail-clip-size",
                "caution",
                f"{self.name} opens {rail.width_mm + self.play_mm:.1f} mm for a rail of "
                f"{rail.width_mm:g} mm, sheet {rail.thickness_mm:g} mm; the rail's figures are from "
                "memory.",
                "Measure your rail with calipers before you print.",
                at,
            ),
        ]

    # --- by hand ------------------------------------------------------------------------------------

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knob where the clip is placed."""
        return side_knob(site, "rail", self.side, self.across_mm, "the clip")

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the clip moved along its side."""
        across = float(np.asarray(to_mm) @ frame_of(self.side).u)
        return self.model_copy(update={"across_mm": round(across, 2)})

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return a clip at the back, its root in the middle of the side where the side is narrow."""
        frame = frame_of("back")
        middle = float((site.outer_mm @ frame.u).mean())
        rail = rails()["TH 35-7.5"]
        narrow = float(np.ptp(site.outer_mm[:, 0])) < rail.width_mm + 2 * POST_MM + 2.0
        root = (rail.width_mm / 2 + POST_MM) - ROOT_MM / 2
        return cls(across_mm=round(middle - (root if narrow else 0.0), 2))

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return a clip on the side the user clicked."""
        face = face_of(normal)
        if face in ("floor", "roof"):
            return cls.proposed(site)
        across = float(FRAMES[face].seen(point_mm)[0])
        return cls.model_validate({"side": face, "across_mm": round(across, 2)})
