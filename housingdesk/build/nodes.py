"""The steps from spec to halves.  To add a step, write its function and its line in ``nodes``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from housingdesk.build.graph import Node
from housingdesk.build.ground import ground_of
from housingdesk.build.halved import Hollowed, halve, halve_without_pads
from housingdesk.build.passages import Passage, kept_open, passage, seats
from housingdesk.build.placed import Placed, place
from housingdesk.build.playing import play_facts
from housingdesk.build.proving import press_odds, proof_of, subject_of, zone_odds
from housingdesk.build.results import Plan, Quality
from housingdesk.build.siting import SiteWish, site_of, site_wish
from housingdesk.build.works import Works, build_features
from housingdesk.build.zoning import Zoned, zoned
from housingdesk.features.feature import Feature
from housingdesk.features.forms.block import Block
from housingdesk.features.forms.form import Form
from housingdesk.features.forms.ground import Ground, Outside
from housingdesk.features.site import Memo, Shadow, Site
from housingdesk.geometry.kept import seated_cavity
from housingdesk.geometry.occupied import ByZone
from housingdesk.geometry.offset import sweep_cavity
from housingdesk.geometry.patches import Patch, find_patches
from housingdesk.geometry.profile import Profile, profile
from housingdesk.geometry.recall import Recall
from housingdesk.geometry.solid import Outline, Solid, rounds_within
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec

FORM_TOLERANCE_MM: dict[Quality, float] = {"draft": 0.2, "final": 0.05}
ROUNDS_MM: dict[Quality, float] = {"draft": 0.05, "final": 0.004}  # of forms and features
TOLERANCE_MM: dict[Quality, float] = {"draft": 0.12, "final": 0.02}
RELIEF_SKIN_MM = 0.06  # two cavities found apart differ by less; only what is thicker is shown as relief
RELIEF_CRUMB_MM3 = 0.2
MAX_PATCH_TRIANGLES = 400_000  # beyond this, looking for flats and rounds would keep the user waiting


def _patches(
    get_mesh: Callable[[str], Mesh], parts: tuple[PartSpec, ...], _quality: Quality
) -> dict[str, tuple[Patch, ...]]:
    """Find flats and rounds of each part, in its own frame, mm."""
    found = {}
    for part in parts:
        mesh = get_mesh(part.mesh_key)
        few = mesh.triangles <= MAX_PATCH_TRIANGLES
        found[part.name] = find_patches(mesh.moved(np.diag([part.scale_mm] * 3 + [1.0]))) if few else ()
    return found


def _zoned(
    wish: tuple[FitSpec, float], _quality: Quality, placed: Placed, patches: dict[str, tuple[Patch, ...]]
) -> Zoned:
    fit, hole_extra_mm = wish
    return zoned(fit, placed, patches, hole_extra_mm)


def _cavity(up: bool) -> Callable[[tuple[float, bool], Quality, Placed, Zoned], Solid]:
    """Return the step that makes one half's cavity; it remembers its last draft and its last final one."""
    recalls = {quality: Recall() for quality in TOLERANCE_MM}

    def run(wish: tuple[float, bool], quality: Quality, placed: Placed, found: Zoned) -> Solid:
        seal_mm, keep_material = wish
        if keep_material:
            return _seated(seal_mm, quality, placed, found)
        tris, reach = found.surfaces(placed)
        by_zone = ByZone(found.zone_of_surfaces, recalls[quality])

        def sweep() -> Solid:
            tolerance_mm = TOLERANCE_MM[quality]
            return sweep_cavity(
                tris, reach, up=up, seal_mm=seal_mm, tolerance_mm=tolerance_mm, by_zone=by_zone
            )

        # A zone may have changed in name, purpose or mouth alone.
        return recalls[quality].answer("cavity", (tris, reach, np.array([seal_mm])), sweep)

    return run


def _seated(seal_mm: float, quality: Quality, placed: Placed, found: Zoned, *, more_mm: float = 0.0) -> Solid:
    """Return the space of the seated part, with no way in."""
    tris, reach = found.surfaces(placed)
    return seated_cavity(tris, reach + more_mm, seal_mm=seal_mm, tolerance_mm=TOLERANCE_MM[quality])


def _relief(
    wish: PartingSpec, _quality: Quality, lower: Solid, upper: Solid, seated: Solid, outside: Outside
) -> dict[Side, Mesh]:
    """Return what is cut from each half only so that the part can go in."""
    z = wish.height_mm
    form = outside.whole(z)
    cut: dict[Side, Solid] = {
        "lower": (lower - seated).below(z) & form,
        "upper": (upper - seated).above(z) & form,
    }
    return {
        side: Solid.union(b for b in cut[side].bodies() if b.volume_mm3 >= RELIEF_CRUMB_MM3).mesh()
        for side in SIDES
    }


def _outlines(_wish: None, _quality: Quality, placed: Placed) -> tuple[Floats, ...]:
    """Return the outlines of each part seen along the pull; none for a sheet that stands upright."""
    seen = (Outline.rough_shadow(mesh.vertices[mesh.faces]) for mesh in placed.parts)
    return tuple(loop for outline in seen for loop in outline.loops)


def _plan(
    _wish: None, _quality: Quality, outlines: tuple[Floats, ...], outside: Outside, works: Works
) -> Plan:
    added = [s.silhouette() for w in works.made.values() for s in w.added]
    housing = Outline.union([outside.reach.silhouette(), *added]).filled()
    return Plan(tuple(housing.loops), outlines)


def _profile(seal_mm: float, _quality: Quality, placed: Placed, found: Zoned) -> Profile:
    return profile(*found.surfaces(placed), seal_mm=seal_mm)


def _ground(wish: tuple[ShellSpec, FitSpec], quality: Quality, placed: Placed, found: Zoned) -> Ground:
    return ground_of(*wish, placed, found, FORM_TOLERANCE_MM[quality])


def _form(form: Form, quality: Quality, ground: Ground) -> Outside:
    with rounds_within(ROUNDS_MM[quality]):
        return form.build(ground)


def _outer(_wish: None, _quality: Quality, outside: Outside) -> Floats:
    return outside.bounds


def _passages(
    wish: tuple[dict[str, float], float], _quality: Quality, found: Zoned, outside: Outside
) -> tuple[Passage, ...]:
    mouths, wall_mm = wish
    made = (passage(shaft, outside.reach, mouths[shaft.zone], wall_mm) for shaft in found.shafts)
    return tuple(p for p in made if p is not None)


def _shadow(
    _wish: None, _quality: Quality, lower: Solid, upper: Solid, passages: tuple[Passage, ...]
) -> Shadow:
    return Shadow((lower, upper, *(p.cut for p in passages)))


def _hollowed(
    _wish: None,
    _quality: Quality,
    outside: Outside,
    lower: Solid,
    upper: Solid,
    passages: tuple[Passage, ...],
    shadow: Shadow,
) -> Hollowed:
    return Hollowed(outside, {"lower": lower, "upper": upper}, passages, shadow)


def _memo(_wish: SiteWish, _quality: Quality, *_of: object) -> Memo:
    """Return what features keep from one place of the parting plane to the next; empty at first."""
    return Memo()


def _works(wanted: tuple[Feature, ...], quality: Quality, site: Site) -> Works:
    with rounds_within(ROUNDS_MM[quality]):
        return build_features(wanted, site) if wanted else Works()


def _without_form(shell: ShellSpec) -> ShellSpec:
    """Return the shell without its form, so that another form is had without measuring the ground again."""
    return shell.model_copy(update={"form": Block()})


def nodes(get_mesh: Callable[[str], Mesh]) -> tuple[Node, ...]:
    """Return all steps; ``get_mesh`` gives a part's mesh in file units by its key."""
    cavities = ("cavity_lower", "cavity_upper")
    unparted = ("placed", "patches", "zones", "outer", "form", *cavities, "shadow")
    return (
        Node(
            "placed", 2, lambda s: (s.parts, s.parting.pull), (), lambda w, q: place(get_mesh, w, q),
            phrase="Placing the parts",
        ),
        Node(
            "patches", 1, lambda s: s.parts, (), lambda w, q: _patches(get_mesh, w, q),
            phrase="Reading flats and rounds of the part",
        ),
        Node("zones", 2, lambda s: (s.fit, s.printer.measured_hole_mm), ("placed", "patches"), _zoned),
        Node(
            "cavity_lower", 4, lambda s: (s.fit.seal_mm, "lower" in s.fit.keep_material),
            ("placed", "zones"), _cavity(True), True,
            "Making room in the lower half", light=True,
        ),
        Node(
            "cavity_upper", 4, lambda s: (s.fit.seal_mm, "upper" in s.fit.keep_material),
            ("placed", "zones"), _cavity(False), True,
            "Making room in the upper half", light=True,
        ),
        Node(
            "ground", 2, lambda s: (_without_form(s.shell), s.fit), ("placed", "zones"), _ground, True,
            light=True,
        ),
        Node("form", 2, lambda s: s.shell.form, ("ground",), _form, True, "Shaping the outside", light=True),
        Node("outer", 3, lambda _: None, ("form",), _outer, light=True),
        Node(
            "passages", 2, lambda s: ({z.name: z.mouth_mm for z in s.fit.zones}, s.shell.wall_mm),
            ("zones", "form"), _passages, light=True,
        ),
        Node("shadow", 1, lambda _: None, (*cavities, "passages"), _shadow, True, light=True),
        Node(
            "hollowed", 1, lambda _: None,
            ("form", *cavities, "passages", "shadow"), _hollowed, True,
            light=True,
        ),
        Node(
            "memo", 1, lambda s: replace(site_wish(s), parting_z_mm=0.0), unparted, _memo, True, light=True
        ),
        Node(
            "site", 1, site_wish,
            (*unparted, "memo"), site_of, True,
        ),
        Node(
            "works", 3, lambda s: (*seats(s.fit.zones), *kept_open(s.fit.zones), *s.features),
            ("site",), _works, True,
            "Placing screws and openings",
        ),
        Node(
            "halves", 2, lambda s: s.parting,
            ("placed", "hollowed", "works"), halve, True,
            "Parting the halves",
        ),
        Node(
            "unpadded", 1, lambda s: s.parting,
            ("halves", "placed", "hollowed", "works"), halve_without_pads, True,
        ),
        Node(
            "play", 2, lambda s: s.fit.zones,
            ("placed", "patches", "zones", "works", "halves", "unpadded"), play_facts, True,
            "Measuring how far the part can move",
        ),
        Node(
            "seated", 1, lambda s: s.fit.seal_mm, ("placed", "zones"),
            partial(_seated, more_mm=RELIEF_SKIN_MM), True,
        ),
        Node(
            "relief", 1, lambda s: s.parting, (*cavities, "seated", "form"), _relief, True,
            "Looking for what the way in takes",
        ),
        Node("outlines", 1, lambda _: None, ("placed",), _outlines),
        Node("plan", 1, lambda _: None, ("outlines", "form", "works"), _plan, True),
        Node(
            "odds", 3, lambda s: (s.fit, s.printer, s.play_mm),
            ("placed", "zones", "passages"), zone_odds,
        ),
        Node("rib_odds", 3, lambda s: (s.fit.clearance_mm, s.printer), ("works",), press_odds),
        Node("profile", 2, lambda s: s.fit.seal_mm, ("placed", "zones"), _profile,
             phrase="Weighing parting planes"),
        Node(
            "subject", 1, lambda s: (s.fit, s.shell, s.parting, s.printer.outside_extra_mm),
            ("placed", "zones", "outer", "halves", "profile", "passages", "works", "form"), subject_of, True,
        ),
        Node(
            "proof", 8, lambda s: s.fit.zones, ("subject", "zones", "passages", "works"), proof_of, True,
            "Measuring the finished halves",
        ),
    )  # fmt: skip
