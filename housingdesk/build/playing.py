"""The step that measures play, part by part, with and without what presses on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from housingdesk.build.halved import Halved
from housingdesk.build.placed import Placed
from housingdesk.build.results import Quality
from housingdesk.build.works import Works
from housingdesk.build.zoning import Zoned
from housingdesk.features.site import Shaft
from housingdesk.geometry.freedom import STILL
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.types import SIDES, Floats, Mesh, joined
from housingdesk.proof.beside import as_obstacles, bodies
from housingdesk.proof.facts import PlayFacts
from housingdesk.proof.hot import hot_findings
from housingdesk.proof.play import crushed, judged, measure_play, stops
from housingdesk.spec.zones import ZoneSpec

UPRIGHT = np.array([0.0, 0.0, 1.0])


def play_facts(
    zones: tuple[ZoneSpec, ...],
    _quality: Quality,
    placed: Placed,
    patches: dict[str, tuple[Patch, ...]],
    found: Zoned,
    works: Works,
    halved: Halved,
    unpadded: Halved,
) -> PlayFacts:
    """Measure the play of each part by itself; the halves and the other parts, where they lie, stop it.

    Parts that lie deep in each other move as one body.  Each turns about its own first shaft, or upright
    about its middle.  Of several parts the figures returned are of the loosest, all of them with it.
    """
    halves = [halved.halves[side] for side in SIDES]
    soft = [s.mesh() for w in works.made.values() for group in w.soft.values() for s in group]
    contacts = tuple(c for w in works.made.values() for c in w.contacts)
    flush = crushed(halves, contacts)
    bare = [unpadded.halves[side] for side in SIDES] if contacts or soft else None
    together, deep = bodies(placed.parts)
    facts: dict[int, PlayFacts] = {}
    for own in together:
        others = as_obstacles(placed.parts, own, deep)
        part = joined([placed.parts[i] for i in own])
        names = [placed.names[i] for i in own]
        mine = {z.name for z in zones if z.part in names}
        shaft = next((s for s in found.shafts if s.zone in mine), None)
        about, point, axis = _turns_about(shaft, part)
        now = measure_play(part, [*flush, *others], point, axis, soft=soft)
        before = None if bare is None else measure_play(part, [*bare, *others], point, axis)
        (px, py, pz), (ax, ay, az) = point.tolist(), axis.tolist()
        one = PlayFacts(about, (px, py, pz), (ax, ay, az), now, before)
        starts = np.cumsum([0] + [placed.parts[i].triangles for i in own]).tolist()
        numbered = [
            replace(p, faces=p.faces + start)
            for name, start in zip(names, starts, strict=False)
            for p in patches[name]
        ]
        one = replace(one, stops=stops(part, numbered, [*halves, *soft, *others], one))
        for i in own:
            facts[i] = _said(one, i, placed, zones, found, halves)
    each = tuple(facts[i] for i in range(len(facts)))
    if len(each) == 1:
        return each[0]
    findings = tuple(f for one in each for f in one.findings)
    return replace(_loosest(each), findings=findings, parts=each)


def _said(
    one: PlayFacts,
    number: int,
    placed: Placed,
    zones: tuple[ZoneSpec, ...],
    found: Zoned,
    halves: Sequence[Mesh],
) -> PlayFacts:
    """Return the facts of one part by its number with their lines of the proof sheet."""
    part = placed.parts[number]
    if len(placed.parts) > 1:
        x, y, z = part.bounds.mean(axis=0).tolist()
        one = replace(one, part=placed.names[number], middle_mm=(x, y, z))
    one = judged(one)
    zone = found.zone[placed.starts[number] : placed.starts[number + 1]]
    hot = {z.name: part.faces[zone == i] for i, z in enumerate(zones) if z.purpose == "hot"}
    return replace(one, findings=(*one.findings, *hot_findings(part, hot, halves, one.now)))


def _turns_about(shaft: Shaft | None, part: Mesh) -> tuple[str, Floats, Floats]:
    """Return the name of what a part turns about, a point of that axis and its direction."""
    if shaft is None:
        return "", part.bounds.mean(axis=0), UPRIGHT
    return shaft.zone, shaft.base_mm, shaft.axis


def _loosest(facts: Sequence[PlayFacts]) -> PlayFacts:
    """Return the part that can shift furthest; where figures would read the same, one with a shaft."""
    most = max(one.now.most_mm for one in facts)
    near = [one for one in facts if one.now.most_mm >= most - STILL]
    return next((one for one in near if one.about), near[0])
