"""A small made-up housing for tests of features: a 40 x 24 x 16 block as the part, no engine needed."""

from __future__ import annotations

from typing import Any

import numpy as np

from housingdesk.features.forms.ground import Outside
from housingdesk.features.site import Shadow, Site
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side

PART_LOW, PART_HIGH = np.array([-20.0, -12.0, 0.0]), np.array([20.0, 12.0, 16.0])


def block_site(
    clearance_mm: float = 1.0,
    wall_mm: float = 2.4,
    parting_z_mm: float = 8.0,
    room_mm: float = 0.0,
    **more: Any,
) -> Site:
    """Return the site of the block, its cavities swept along the pull, in a block form.

    Parameters
    ----------
    room_mm : so much further out than needed the form is, left, right, front and back.
    more : other fields of ``Site``.
    """
    part = Solid.box(PART_LOW, PART_HIGH)
    mesh = part.mesh()
    c, far = clearance_mm, np.array([0.0, 0.0, 40.0])
    lower = Solid.box(PART_LOW - c, PART_HIGH + c + far)
    upper = Solid.box(PART_LOW - c - far, PART_HIGH + c)
    beyond = np.array([c + wall_mm + room_mm, c + wall_mm + room_mm, c + wall_mm])
    outer = np.array([PART_LOW - beyond, PART_HIGH + beyond])
    given = {"parting_z_mm": parting_z_mm, "wall_mm": wall_mm, "clearance_mm": clearance_mm}
    return site_of("block", mesh, {"lower": lower, "upper": upper}, outer, given | more)


def site_of(
    name: str, mesh: Mesh, cavity: dict[Side, Solid], outer_mm: Floats, given: dict[str, Any]
) -> Site:
    """Return the site of one part in a block form.

    Parameters
    ----------
    outer_mm : (2, 3) corners of the form.
    given : the other fields of ``Site``, or some of these in place of what they would be.
    """
    fields: dict[str, Any] = {
        "parts": {name: mesh},
        "patches": {name: find_patches(mesh)},
        "outer_mm": outer_mm,
        "form": Solid.box(outer_mm[0], outer_mm[1]),
        "cavity": cavity,
        "shadow": Shadow((cavity["lower"], cavity["upper"])),
    }
    return Site(**(fields | given))


def halves_with(site: Site, *features: Any) -> dict[Side, Solid]:
    """Return both finished halves of a site with features on it, as the build makes them."""
    from housingdesk.build.halved import Hollowed, finished
    from housingdesk.build.works import build_features

    works = build_features(tuple(features), site)
    hollowed = Hollowed(Outside.same(site.form), site.cavity, (), site.shadow)
    return {side: finished(side, site.parting_z_mm, hollowed, works) for side in SIDES}
