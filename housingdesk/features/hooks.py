"""Snap hooks that hold the halves together without screws."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features import places as ground
from housingdesk.features import snap
from housingdesk.features.feature import Station
from housingdesk.features.hardware import AROUND_MM, FALLBACK_PLASTIC
from housingdesk.features.hook_shape import LEAD_DEG, ROOT_SHARE, HookShape, frame
from housingdesk.features.places import Place
from housingdesk.features.records import Joint
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding, counted
from housingdesk.geometry.solid import Outline, Solid
from housingdesk.geometry.types import Floats, Side
from housingdesk.standards.plastics import plastics

REPEATED = 0.6  # of the limit where a hook is opened again and again (scribd 172064197)
RIM_MM = 2.0  # material of the other half that the nose catches behind (own choice)
ROOT_FILLET_MM = 2.0  # where a hook's housing meets the wall (own choice)
MOST_TRIED = 40  # places along a side, the nearest to the wanted one
LEAST_WIDE_MM = 5.0  # narrower hooks break (konubinix.eu)


@dataclass(frozen=True, eq=False)
class Hook:
    """One hook where it stands.

    Attributes
    ----------
    place : (x, y) of its outside.
    to_build : (4, 4) map from its own frame.
    boss : what grows out of the wall around it.
    """

    place: Place
    to_build: Floats
    boss: Solid | None


class Hooks(ground.ManyPlaces):
    """Cantilever hooks on one half, catching in windows of the other."""

    TITLE: ClassVar[str] = "Snap hooks"
    STATION: ClassVar[Station] = "Joints"
    SENTENCE: ClassVar[str] = (
        "Snap it shut with {count} hook|hooks on the {hook_on} half, {width_mm} wide and {thick_mm} thick, "
        "catching by {catch_mm}, opened {lets_go}."
    )
    THING: ClassVar[str] = "Hook"
    ORDER: ClassVar[int] = 68

    kind: Literal["hooks"] = "hooks"
    count: int = Field(default=2, ge=1, le=8, title="number of hooks",
                       description="In pairs on opposite sides, so that they pull alike.")  # fmt: skip
    thick_mm: float = Field(default=1.2, ge=0.8, le=5, title="thickness of the hooks",
                            description="Thin hooks bend further: strain grows with thickness.")  # fmt: skip
    width_mm: float = Field(default=6.0, ge=2, le=40, title="width of the hooks",
                            description="Wider hooks hold better; under 5 mm they break.")  # fmt: skip
    catch_mm: float = Field(default=0.6, ge=0.2, le=4, title="catch",
                            description="How far the nose reaches behind the edge.")  # fmt: skip
    length_mm: float | None = Field(
        default=None, ge=2, le=80, title="length of the hooks",
        description="From root to catch. As needed: so long that the plastic is not strained too far.",
    )  # fmt: skip
    gap_mm: float = Field(
        default=0.25, ge=0.05, le=1, title="room around the hooks", description="On each side."
    )
    hook_on: Literal["lower", "upper"] = Field(
        default="lower",
        title="half with the hooks",
        description="The other half has the windows that they catch in.",
    )
    lets_go: Literal["with a tool", "by pulling"] = Field(
        default="with a tool", title="how they are opened",
        description="With a tool: pushed back through their windows. By pulling: a slope lets them slip out.",
    )  # fmt: skip

    places_mm: tuple[Place, ...] = Field(
        default=(), max_length=8, title="places of the hooks",
        description="Empty: chosen by the program at every change. A hook stands in the side nearest to it.",
    )  # fmt: skip

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self:
        """Propose one hook in the side nearest to where the user clicked."""
        x, y, _ = np.round(point_mm, 2).tolist()
        return cls(count=1, places_mm=((x, y),))

    @classmethod
    def proposed(cls, site: Site) -> Self:
        """Propose two hooks, four on a long housing."""
        x, y, _ = (site.outer_mm[1] - site.outer_mm[0]).tolist()
        return cls(count=4 if max(x, y) > 80 else 2)

    def knob_half(self) -> Side:
        """Return the half that the hooks stand on."""
        return self.hook_on

    def build(self, site: Site) -> Work:
        """Make arms and wells on one half, pockets and windows in the other."""
        shape, short = self._shape(site)
        standing = self._hooks(site, shape)
        hooks = [h for h in standing if isinstance(h, Hook)]
        if not hooks:
            raise SpecError("There is no room for a hook along the sides; let them reach further out.")
        z, other = site.parting_z_mm, self._other()
        own: Side = self.hook_on
        well = shape.own_cut()
        cut: dict[Side, tuple[Solid, ...]] = {
            other: tuple(shape.other_cut().moved(h.to_build) for h in hooks),
            own: () if well.is_empty else tuple(well.moved(h.to_build) for h in hooks),
        }
        figures, findings = self._judged(site, shape, short, len(hooks), len(standing))
        findings += [self._refused(i, h, z) for i, h in enumerate(standing, 1) if not isinstance(h, Hook)]
        return Work(
            stands=tuple(h.boss for h in hooks if h.boss is not None),
            add={own: tuple(shape.stand().moved(h.to_build) for h in hooks)},
            cut=cut,
            needs=tuple(shape.envelope(AROUND_MM).moved(h.to_build) for h in hooks),
            keep_out=tuple(shape.envelope(0.0).moved(h.to_build) for h in hooks),
            joints=tuple(Joint(f"{self.name} {i}", "hook", figures) for i in range(1, len(hooks) + 1)),
            findings=tuple(findings),
            handles=self.knobs_at(site, [h.place if isinstance(h, Hook) else h for h in standing]),
            holds=True,
        )

    def _refused(self, number: int, place: Place, z_mm: float) -> Finding:
        return Finding("hook-place", "fail", f"Hook {number} of {self.name} has no room at its place.",
                       "Drag it along its side, away from screws and openings.", (*place, z_mm))  # fmt: skip

    def _other(self) -> Side:
        return "upper" if self.hook_on == "lower" else "lower"

    def _limit(self, site: Site) -> float:
        """Return the permissible strain as a share; opened again and again, less of it."""
        known = plastics().get(site.material)
        span = (known and known.strain_pct) or plastics()[FALLBACK_PLASTIC].strain_pct
        assert span is not None
        return span.low / 100 * (REPEATED if self.lets_go == "by pulling" else 1.0)

    def _shape(self, site: Site) -> tuple[HookShape, bool]:
        """Return the hook's sizes, and whether it is shorter than the plastic wants for lack of height."""
        least = snap.length_for(self.catch_mm, self.thick_mm, self._limit(site))
        needed = self.length_mm or max(math.ceil(10 * least) / 10, RIM_MM + self.thick_mm)
        room = abs(site.base_z_mm(self.hook_on) - site.parting_z_mm) - AROUND_MM
        length = min(needed, room + RIM_MM)
        shape = HookShape(
            length_mm=length,
            thick_mm=self.thick_mm,
            wide_mm=self.width_mm,
            catch_mm=self.catch_mm,
            gap_mm=self.gap_mm,
            rim_mm=min(RIM_MM, length),
            return_deg=90.0 if self.lets_go == "with a tool" else 45.0,
            wall_mm=AROUND_MM,
            extra_mm=site.drawn_mm(self.thick_mm, room_mm=self.gap_mm) - self.thick_mm,
        )
        free = abs(site.base_z_mm(self._other()) - site.parting_z_mm) - AROUND_MM
        if shape.pocket_mm > free:
            raise SpecError(
                f"The {self._other()} half is too low: hooks need pockets of {shape.pocket_mm:.1f} mm and "
                f"there are {max(free, 0):.1f}; make the catch smaller, or part the housing elsewhere."
            )
        return shape, length < needed - 1e-6

    def _hooks(self, site: Site, shape: HookShape) -> list[Hook | Place]:
        """Return hooks at their own places, the rest along the two longer sides, first in the middle of each.

        A place of its own that has no room comes back as it is.
        """
        form, taken = site.form.section_at(site.parting_z_mm), ground.blocked(site)
        half = shape.half_wide_mm + AROUND_MM
        found: list[Hook | Place] = []

        def stand(outward: Floats, spots: Iterable[float], own: Place | None = None) -> None:
            nonlocal taken
            hook = self._first(site, shape, outward, spots, form, taken)
            if hook is not None:
                found.append(hook)
                taken = taken | shape.envelope(0.0).moved(hook.to_build).silhouette()
            elif own is not None:
                found.append(own)

        given = self.places_mm[: self.count]
        for place in given:
            outward, along = _side_of(place, form.bounds)
            stand(outward, [place[along]], place)
        if form.is_empty:
            return found
        size = np.ptp(form.bounds, axis=0)
        sides = ([0.0, 1.0, 0.0], [0.0, -1.0, 0.0]) if size[0] >= size[1] else ([1.0, 0, 0], [-1.0, 0, 0])
        along, more = int(size[1] > size[0]), self.count - len(given)
        low, high = form.bounds[:, along].tolist()
        tried = np.arange(low + half, high - half + 1e-6, 1.0).tolist()
        for side, count in zip(sides, (math.ceil(more / 2), more // 2), strict=True):
            for i in range(count):
                wanted = low + (i + 1) / (count + 1) * (high - low)
                nearest = sorted(tried, key=lambda spot: abs(spot - wanted))
                stand(np.array(side), nearest[:MOST_TRIED])
        return found

    def _first(
        self,
        site: Site,
        shape: HookShape,
        outward: Floats,
        spots: Iterable[float],
        form: Outline,
        taken: Outline,
    ) -> Hook | None:
        """Return a hook on one side, at the first of some places along it that has room."""
        up = 1.0 if self.hook_on == "lower" else -1.0
        along = 1 if abs(outward[0]) > 0.5 else 0
        half = shape.half_wide_mm + AROUND_MM
        for spot in spots:
            v = self._start(outward, along, spot, half, shape, form, taken)
            if v is None:
                continue
            origin = v * outward
            origin[along], origin[2] = spot, site.parting_z_mm
            to_build = frame(origin, outward, up)
            foot = shape.envelope(AROUND_MM).moved(to_build).silhouette()
            if not (taken - _strip(taken, outward, along, spot, half, v)).touches(foot):
                x, y, _ = (origin + shape.deep_mm * outward).tolist()
                return Hook(
                    (x, y), to_build, ground.grown_on(site, site.form, site.level_mm, foot, ROOT_FILLET_MM)
                )
        return None

    def _start(
        self,
        outward: Floats,
        along: int,
        spot: float,
        half: float,
        shape: HookShape,
        form: Outline,
        taken: Outline,
    ) -> float | None:
        """Return how far out the pocket begins: behind the outer wall where there is room, else beyond."""
        inside = _extent(taken, outward, along, spot, half)
        edge = _extent(form, outward, along, spot, half)
        if edge is None:
            return None
        flush = edge - shape.deep_mm
        start = flush if inside is None else max(flush, inside + AROUND_MM)
        # A hook's housing must be rooted in the wall, not only touch it.
        return start if start - AROUND_MM < edge - 0.4 else None

    def _judged(
        self, site: Site, shape: HookShape, short: bool, count: int, standing: int
    ) -> tuple[dict[str, float], list[Finding]]:
        limit = self._limit(site)
        known = plastics().get(site.material)
        modulus = (known and known.modulus_gpa) or plastics()[FALLBACK_PLASTIC].modulus_gpa
        assert modulus is not None
        strained = snap.strain(shape.catch_mm, shape.length_mm, shape.thick_mm)
        bending = snap.bending_force(
            shape.wide_mm, shape.thick_mm, 1000 * modulus.middle, strained, shape.length_mm
        )
        push, pull = snap.push_force(bending, LEAD_DEG), snap.push_force(bending, shape.return_deg)
        figures = {
            "length_mm": shape.length_mm,
            "thick_mm": shape.thick_mm,
            "width_mm": shape.wide_mm,
            "catch_mm": shape.catch_mm,
            "gap_mm": shape.gap_mm,
            "root_radius_mm": ROOT_SHARE * shape.thick_mm,
            "strain_pct": 100 * strained,
            "strain_limit_pct": 100 * limit,
            "push_n": push,
            "outside_correction_mm": site.outside_extra_mm,
        } | ({"pull_n": pull} if math.isfinite(pull) else {})
        said = (
            f"{counted(count, 'hook bends', 'hooks bend')} by {shape.catch_mm:.1f} mm: "
            f"{100 * strained:.1f} % strain, {100 * limit:.1f} % allowed"
        )
        if strained > limit * 1.001:
            why = "; the half is too low for longer ones." if short else "."
            worst = Finding(
                "hook-strain", "fail", f"{said}{why}", "Make them thinner or longer, or let them catch less."
            )
        else:
            worst = Finding("hook-strain", "pass", f"{said}; {push:.0f} N push each in.")
        out = [worst, Finding(
            "hook-layers", "caution", "Hooks print upright and bend across the layers, where prints break.",
            "Print them slowly and warm, try one, and take screws where a shaft turns.")]  # fmt: skip
        if standing < self.count:
            out.append(Finding("hook-count", "caution", f"There is room for {count} of {self.count} hooks.",
                               "Let the sides reach further out."))  # fmt: skip
        if self.width_mm < LEAST_WIDE_MM:
            out.append(Finding("hook-narrow", "caution", f"Hooks {self.width_mm:.1f} mm wide break easily.",
                               f"Make them {LEAST_WIDE_MM:g} mm wide or more."))  # fmt: skip
        if known is None or known.strain_pct is None:
            out.append(Finding("hook-plastic", "caution", f"No strain limit is known for {site.material}; "
                               "that of PLA is taken.", "Try one hook in a test print."))  # fmt: skip
        return figures, out


def _side_of(place: Place, bounds: Floats) -> tuple[Floats, int]:
    """Return the outward direction of the side of a (2, 2) box nearest to a place, and the axis along it."""
    gaps = np.array([[1.0], [-1.0]]) * (np.asarray(place) - bounds)
    end, axis = np.unravel_index(int(gaps.argmin()), (2, 2))
    outward = np.zeros(3)
    outward[axis] = 1.0 if end else -1.0
    return outward, 1 - int(axis)


def _strip(area: Outline, outward: Floats, along: int, spot: float, half: float, v: float) -> Outline:
    """Return what of an area lies on the inner side of a hook: it is kept off by the hook's place."""
    far = 1000.0
    low, high = np.full(2, -far), np.full(2, far)
    low[along], high[along] = spot - half, spot + half
    across, sign = 1 - along, float(outward[1 - along])
    if sign > 0:
        high[across] = v - AROUND_MM + 1e-3
    else:
        low[across] = -v + AROUND_MM - 1e-3
    return area & Outline.rectangle(low, high)


def _extent(area: Outline, outward: Floats, along: int, spot: float, half: float) -> float | None:
    """Return how far out an area reaches in a strip of a side."""
    far = 1000.0
    low, high = np.full(2, -far), np.full(2, far)
    low[along], high[along] = spot - half, spot + half
    part = area & Outline.rectangle(low, high)
    if part.is_empty:
        return None
    across = 1 - along
    reach = part.bounds[:, across] * float(outward[across])
    return float(reach.max())
