"""The step that gathers what features may see of a housing."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from housingdesk.build.placed import Placed
from housingdesk.build.results import Quality
from housingdesk.build.zoning import Zoned
from housingdesk.features.forms.form import Rim, StraightForm
from housingdesk.features.forms.ground import Outside
from housingdesk.features.site import Memo, Region, Shadow, Site
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats
from housingdesk.spec.models import FitSpec, Spec
from housingdesk.spec.zones import BODY


@dataclass(frozen=True)
class SiteWish:
    """The slice of the spec that features may see."""

    parting_z_mm: float
    wall_mm: float
    clearance_mm: float
    material: str
    hole_extra_mm: float
    outside_extra_mm: float
    regions: tuple[Region, ...]
    rim: tuple[Rim, float]
    straight: bool


def regions_of(fit: FitSpec) -> tuple[Region, ...]:
    """Return the body and then every zone."""
    body = Region(BODY, "held", fit.clearance_mm)
    return (body, *(Region(z.name, z.purpose, z.clearance_mm, z.end_mm) for z in fit.zones))


def site_wish(s: Spec) -> SiteWish:
    """Return what the spec says of the site."""
    form = s.shell.form
    return SiteWish(
        parting_z_mm=s.parting.height_mm,
        wall_mm=s.shell.wall_mm,
        clearance_mm=s.fit.clearance_mm,
        material=s.printer.material,
        hole_extra_mm=s.printer.hole_extra_mm,
        outside_extra_mm=s.printer.outside_extra_mm,
        regions=regions_of(s.fit),
        rim=(form.rim, form.rim_mm) if isinstance(form, StraightForm) else ("sharp", 0.0),
        straight=isinstance(form, StraightForm),
    )


def site_of(
    wish: SiteWish,
    _quality: Quality,
    placed: Placed,
    patches: dict[str, tuple[Patch, ...]],
    found: Zoned,
    outer: Floats,
    outside: Outside,
    lower: Solid,
    upper: Solid,
    shadow: Shadow,
    memo: Memo,
) -> Site:
    """Return the site that features are put on."""
    return Site(
        parts=dict(zip(placed.names, placed.parts, strict=True)),
        patches={
            name: tuple(p.moved(placed.maps[i]) for p in patches[name]) for i, name in enumerate(placed.names)
        },
        outer_mm=outer,
        form=outside.whole(wish.parting_z_mm),
        cavity={"lower": lower, "upper": upper},
        shadow=shadow,
        parting_z_mm=wish.parting_z_mm,
        wall_mm=wish.wall_mm,
        clearance_mm=wish.clearance_mm,
        shafts=found.shafts,
        regions=wish.regions,
        region_of={
            name: found.zone[a:b] + 1
            for name, (a, b) in zip(placed.names, pairwise(placed.starts), strict=True)
        },
        material=wish.material,
        hole_extra_mm=wish.hole_extra_mm,
        outside_extra_mm=wish.outside_extra_mm,
        rim=wish.rim,
        straight=wish.straight,
        memo=memo,
    )
