"""The steps that prove the halves and reckon whether printed ones will fit."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np

from housingdesk.build.ground import held_bounds
from housingdesk.build.halved import Halved
from housingdesk.build.opposite import opposites
from housingdesk.build.passages import Passage
from housingdesk.build.placed import Placed
from housingdesk.build.results import Quality
from housingdesk.build.siting import regions_of
from housingdesk.build.standing import passage_findings
from housingdesk.build.works import Works
from housingdesk.build.zoning import Zoned
from housingdesk.features.forms.ground import Outside
from housingdesk.finding import worst_first
from housingdesk.geometry.profile import Profile
from housingdesk.geometry.types import SIDES, Floats
from housingdesk.proof.checks import prove
from housingdesk.proof.facts import Across, Proof, ZoneOdds
from housingdesk.proof.odds import RibOdds, odds, rib_odds
from housingdesk.proof.subject import Subject, WayOut
from housingdesk.spec.models import HOUSING_SIDES, FitSpec, PartingSpec, PrinterSpec, ShellSpec
from housingdesk.spec.zones import BODY, Purpose, ZoneSpec

ROOM_MM = 0.1  # what a cavity may be larger than asked


def zone_odds(
    wish: tuple[FitSpec, PrinterSpec, float],
    _quality: Quality,
    placed: Placed,
    found: Zoned,
    passages: tuple[Passage, ...],
) -> tuple[ZoneOdds, ...]:
    """Return for each zone that is there the chance that the part goes in, or a shaft turns freely.

    A shaft in a bearing or bush turns in that, and is left out.
    """
    fit, printer, play_mm = wish
    turning = frozenset(i for i, z in enumerate(fit.zones) if z.purpose == "turning")
    clearances = np.array([fit.clearance_mm, *(z.clearance_mm for z in fit.zones)])
    opposite = opposites(placed, found, clearances, found.ends, turning)
    out = []
    zones: list[tuple[str, float, Purpose]] = [(BODY, fit.clearance_mm, "held")]
    zones += [(z.name, z.clearance_mm, z.purpose) for z in fit.zones]
    for number, (name, clearance_mm, purpose) in enumerate(zones, start=-1):
        across = opposite.get(number, ())
        if number in turning and fit.zones[number].seat == "plain" and (found.zone == number).any():
            across = _in_holes(name, clearance_mm, found, passages)
        if across:
            out.append(odds(name, clearance_mm, printer, play_mm, purpose=purpose, across=across))
    return tuple(out)


def _in_holes(
    zone: str, clearance_mm: float, found: Zoned, passages: tuple[Passage, ...]
) -> tuple[Across, ...]:
    """Return the gaps around a shaft: of its holes as they are drawn, else as asked."""
    round_mm = next((s.diameter_mm for s in found.shafts if s.zone == zone), 0.0)
    more = {round(p.diameter_mm - round_mm - 2 * clearance_mm, 6) for p in passages if p.zone == zone}
    return tuple(Across(more_mm=m) for m in sorted(more)) or (Across(),)


def press_odds(wish: tuple[float, PrinterSpec], _quality: Quality, works: Works) -> tuple[RibOdds, ...]:
    """Return for each axis with ribs or pads the chance that they touch."""
    made = works.made.values()
    return rib_odds((c for w in made for c in w.contacts), *wish, (c for w in made for c in w.cushions))


def subject_of(
    wish: tuple[FitSpec, ShellSpec, PartingSpec, float],
    _quality: Quality,
    placed: Placed,
    found: Zoned,
    outer: Floats,
    halved: Halved,
    costs: Profile,
    passages: tuple[Passage, ...],
    works: Works,
    outside: Outside,
) -> Subject:
    """Return the halves with all that the checks measure them by."""
    fit, shell, parting, outside_extra_mm = wish
    relief = dict(zip(SIDES, costs.relief_at(parting.height_mm), strict=True))
    relief |= dict.fromkeys(fit.keep_material, 0.0)
    return Subject(
        parts=placed.parts,
        halves=halved.halves,
        parting_z_mm=parting.height_mm,
        outer_mm=outer,
        held_mm=held_bounds(placed, found),
        clearance_mm=fit.least_mm,
        wall_mm=shell.wall_mm,
        relief_mm3=relief,
        overlap_mm3=halved.overlap_mm3,
        bodies=halved.bodies,
        notes=(*placed.notes, *found.lost),
        fixed_sides=tuple(s for s in HOUSING_SIDES if shell.reach_mm(s) is not None),
        meant=(
            *_meant(placed, found, passages),
            *(c.bounds for w in works.made.values() for c in w.taken),
        ),
        ways_out=tuple(
            WayOut(p.zone, p.axis, p.mouth_mm, p.through_mm, (p.widest_mm - p.diameter_mm) / 2)
            for p in passages
        ),
        zones=regions_of(fit),
        face_zone=found.zone,
        form=outside.reach.mesh(),
        contacts=tuple(c for w in works.made.values() for c in w.contacts),
        channels=tuple(c for w in works.made.values() for c in w.channels),
        seats=tuple(s for w in works.made.values() for s in w.seats),
        fasteners=tuple(f for w in works.made.values() for f in w.fasteners),
        across=tuple(
            s.bounds
            for w in works.made.values()
            for group in w.add.values()
            for s in group
            if not s.is_empty and s.bounds[0, 2] < parting.height_mm < s.bounds[1, 2]
        ),
        fastened=tuple(c.bounds for w in works.made.values() if w.fasteners for c in w.taken),
        kept=fit.keep_material,
        floor_wall_mm=shell.floor_wall_mm,
        roof_wall_mm=shell.roof_wall_mm,
        skins=halved.skins,
        joined=any(w.holds for w in works.made.values()),
        outside_extra_mm=outside_extra_mm,
    )


def _meant(placed: Placed, found: Zoned, passages: tuple[Passage, ...]) -> list[Floats]:
    """Return boxes, each (2, 3), around what ways out take: also around two that meet.

    They hold the room at a shaft's sides, where its zone asks for some.
    """
    boxes = []
    tris, reach = found.surfaces(placed)
    for way in passages:
        box = way.through_mm.copy()
        ends = np.flatnonzero(found.zone_of_surfaces == found.number(way.zone))
        ends = ends[ends >= len(placed.tris)]
        if len(ends):
            room = reach[ends, None, None]
            low, high = (tris[ends] - room).min(axis=(0, 1)), (tris[ends] + room).max(axis=(0, 1))
            across = np.arange(3) != np.abs(way.axis).argmax()
            box[0, across] = np.minimum(box[0], low - ROOM_MM)[across]
            box[1, across] = np.maximum(box[1], high + ROOM_MM)[across]
        boxes.append(box)
    both = [
        np.array([np.minimum(one[0], other[0]), np.maximum(one[1], other[1])])
        for one, other in combinations(boxes, 2)
        if (one[0] <= other[1]).all() and (other[0] <= one[1]).all()
    ]
    return [*boxes, *both]


def proof_of(
    zones: tuple[ZoneSpec, ...],
    _quality: Quality,
    subject: Subject,
    found: Zoned,
    passages: tuple[Passage, ...],
    works: Works,
) -> Proof:
    """Return all that is measured and found on the halves."""
    proof = prove(subject)
    told = {name for name, _ in found.barred}
    turning = [z.name for z in zones if z.purpose == "turning" and z.name not in told]
    halves = [subject.halves[side] for side in SIDES]
    said = [finding for _, finding in found.barred]
    ways_out = passage_findings(found.shafts, passages, halves, works.made, turning, said)
    return replace(proof, findings=worst_first([*proof.findings, *works.findings, *ways_out]))
