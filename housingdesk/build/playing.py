"""The step that measures play, with and without what presses on the part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from housingdesk.build.halved import Halved
from housingdesk.build.placed import Placed
from housingdesk.build.results import Quality
from housingdesk.build.works import Works
from housingdesk.build.zoning import Zoned
from housingdesk.geometry.patches import Patch
from housingdesk.geometry.types import SIDES, joined
from housingdesk.proof.facts import PlayFacts
from housingdesk.proof.play import judged, measure_play, stops


def play_facts(
    _wish: None,
    _quality: Quality,
    placed: Placed,
    patches: dict[str, tuple[Patch, ...]],
    found: Zoned,
    works: Works,
    halved: Halved,
    unpadded: Halved,
) -> PlayFacts:
    """Measure the play of all parts as one body, about the first shaft's axis or the upright middle."""
    part = joined(placed.parts)
    if found.shafts:
        shaft = found.shafts[0]
        about, point, axis = shaft.zone, shaft.base_mm, shaft.axis
    else:
        about, point, axis = "", placed.bounds.mean(axis=0), np.array([0.0, 0.0, 1.0])
    halves = [halved.halves[side] for side in SIDES]
    soft = [s.mesh() for w in works.made.values() for group in w.soft.values() for s in group]
    contacts = tuple(c for w in works.made.values() for c in w.contacts)
    now = measure_play(part, halves, point, axis, contacts, soft)
    before = None
    if contacts or soft:
        before = measure_play(part, [unpadded.halves[side] for side in SIDES], point, axis)
    (px, py, pz), (ax, ay, az) = point.tolist(), axis.tolist()
    facts = PlayFacts(about, (px, py, pz), (ax, ay, az), now, before)
    numbered = [
        replace(p, faces=p.faces + start)
        for name, start in zip(placed.names, placed.starts, strict=False)
        for p in patches[name]
    ]
    return judged(replace(facts, stops=stops(part, numbered, [*halves, *soft], facts)))
