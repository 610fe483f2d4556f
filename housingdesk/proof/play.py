"""Play in the closed housing: exact first contacts of the untouched part with the finished halves.

Where the housing presses on the part on purpose (`Contact`), halves and part run into each other from the
start.  There the rib is crushed flush with the part when the housing is shut: the part has no room towards
it and slides freely along it.  So what stands into the part at a contact is taken off the halves first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from housingdesk.features.records import Contact
from housingdesk.finding import Finding
from housingdesk.geometry.frames import rotation_about
from housingdesk.geometry.freedom import STILL, Play, Range
from housingdesk.geometry.measure import nearest
from housingdesk.geometry.patches import Patch, describe, patch_at
from housingdesk.geometry.play import play
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Floats, Mesh, joined
from housingdesk.proof.facts import PlayFacts
from housingdesk.proof.wording import mm, triple

FLUSH_MM = 1e-4  # a crushed rib ends so far before the part, so that the part slides past its edges
DEEPER_MM = 0.03  # a rib's chords and a round part's facets, besides the press
TOUCHES_MM = 0.004  # what is so near after turning up to the first contact is what stops it
_CODE = "play"
_FREELY = "freely"
_ABOUT = ("left-right", "front-back", "the upright axis")  # the three build axes
_ALONG = 1e-9  # so near to 1 is the turn about an axis that about a build axis
_HOLD = "Add locating ribs or pads, or lower the clearance."


def measure_play(
    part: Mesh,
    halves: Sequence[Mesh],
    axis_mm: Floats,
    axis: Floats,
    contacts: tuple[Contact, ...] = (),
    soft: Sequence[Mesh] = (),
) -> Play:
    """Return the play of a part in closed halves, contacts and pads included.

    Parameters
    ----------
    part : one part.
    halves : and what else stops it.
    axis_mm, axis : (3,) the axis to turn about.
    contacts : where the halves press on the part; figures there are ``FLUSH_MM`` too large.
    soft : closed bodies of pads that hold the part besides, as they are when the housing is shut.
    """
    return play(part, [*crushed(halves, contacts), *soft], axis_mm, axis, crush_mm=0.0)


def crushed(halves: Sequence[Mesh], contacts: tuple[Contact, ...]) -> list[Mesh]:
    """Return the halves without what stands into the part at contacts."""
    flush = [_flush(c) for c in contacts if any(c.out)]
    if not flush:
        return list(halves)
    taken = Solid.union(flush)
    return [(Solid.from_mesh(half) - taken).mesh() for half in halves]


def _flush(contact: Contact) -> Solid:
    """Return a flat block that reaches from the part's surface as deep into the part as the rib does."""
    out, r = np.array(contact.out), contact.radius_mm
    one = np.cross(out, np.eye(3)[np.abs(out).argmin()])
    one /= np.linalg.norm(one)
    frame = np.array([one, np.cross(out, one), out])
    deep = max(contact.press_mm, 0.0) + DEEPER_MM
    corners = [(u, v, w) for u in (-r, r) for v in (-r, r) for w in (-deep, FLUSH_MM)]
    return Solid.hull_of_points(np.array(contact.centre_mm) + np.array(corners) @ frame)


def stops(
    part: Mesh, patches: Sequence[Patch], obstacles: Sequence[Mesh], facts: PlayFacts
) -> tuple[str, ...]:
    """Say what of the part meets the housing first when turned about the axis, back and forth.

    Parameters
    ----------
    patches : of the part, their faces numbered as the part's.
    obstacles : halves and pads.
    """
    still = joined(list(obstacles))
    said = []
    for way, angle in zip((-1.0, 1.0), facts.now.turn_deg, strict=True):
        if angle >= facts.now.limit_deg:
            continue
        turned = part.moved(_about(facts, way * angle))
        mine, _, _ = nearest(turned.vertices, still)
        mine_touch = np.isin(part.faces, np.flatnonzero(mine <= TOUCHES_MM)).any(axis=1)
        low, high = turned.bounds
        near = ((still.vertices >= low - TOUCHES_MM) & (still.vertices <= high + TOUCHES_MM)).all(axis=1)
        theirs, _, met = nearest(still.vertices[near], turned)
        faces = np.union1d(np.flatnonzero(mine_touch), met[theirs <= TOUCHES_MM])
        found = {id(p): p for f in faces if (p := patch_at(tuple(patches), int(f)))}
        flats = sorted((p for p in found.values() if p.kind == "flat"), key=lambda p: -p.area_mm2)
        named = flats or sorted(found.values(), key=lambda p: -p.area_mm2)
        said += [describe(p) for p in named[:2]]
    return tuple(dict.fromkeys(said))


def _about(facts: PlayFacts, degrees: float) -> Floats:
    point = np.array(facts.axis_mm)
    there, back = np.eye(4), np.eye(4)
    there[:3, 3], back[:3, 3] = point, -point
    return np.asarray(there @ rotation_about(np.array(facts.axis), degrees) @ back)


def judged(facts: PlayFacts) -> PlayFacts:
    """Return the facts with their line of the proof sheet."""
    now = facts.now
    message = f"In the closed housing {facts.who} can {_ways(facts, now)}"
    if facts.stops and not now.turns_freely:
        message += f"; the turning is stopped by: {'; '.join(facts.stops)}"
    message += f". {_otherwise(facts)}"
    if facts.before is not None:
        message += f" Without ribs and pads it could {_ways(facts, facts.before)}."
    loose = now.most_mm >= now.limit_mm
    where = triple(facts.axis_mm)
    if loose:
        message += " On one side nothing holds it at all."
        finding = Finding(_CODE, "caution", message, f"Close that side, or: {_HOLD}", where)
    elif facts.about and now.turns_freely:
        message += " Nothing takes up the torque of the shaft."
        finding = Finding(_CODE, "caution", message, _HOLD, where)
    else:
        finding = Finding(_CODE, "pass", message, where_mm=where)
    return replace(facts, findings=(finding,))


def _ways(facts: PlayFacts, found: Play) -> str:
    """Say how far it can move, and turn about what."""
    about = facts.about_words
    if not found.shifts and not found.turns:
        return f"neither move nor turn {about}"
    move = f"move {_shifts(found)}" if found.shifts else "not move"
    turn = f"turn {_turn(found.turn_deg, found)} {about}" if found.turns else f"not turn {about}"
    return f"{move} and {turn}"


def _otherwise(facts: PlayFacts) -> str:
    """Say how far it turns about the build axes, but the one that has been told of already."""
    now = facts.now
    pairs = (now.turn_x_deg, now.turn_y_deg, now.turn_z_deg)
    others = [i for i in range(3) if abs(facts.axis[i]) < 1 - _ALONG]
    if max(max(pairs[i]) for i in others) < STILL:
        return f"It cannot turn about {' or '.join(_ABOUT[i] for i in others)}."
    far = {i: _turn(pairs[i], now) if max(pairs[i]) >= STILL else "not at all" for i in others}
    *said, last = (f"about {_ABOUT[i]} {far[i]}" for i in others)
    return f"It turns {', '.join(said)} and {last}."


def _shifts(found: Play) -> str:
    words = (("left", "right"), ("to the front", "to the back"), ("down", "up"))
    pairs = (found.x_mm, found.y_mm, found.z_mm)
    return ", ".join(
        (f"{one} {less} and {more}" if one == other else f"{one} {less} and {other} {more}")
        + (f" (no stop within {found.limit_mm:g} mm)" if _FREELY in (one, other) else "")
        for (less, more), pair in zip(words, pairs, strict=True)
        for one, other in [[_length(value, found) for value in pair]]
    )


def _length(value: float, found: Play) -> str:
    return _FREELY if value >= found.limit_mm else mm(value)


def _turn(pair: Range, found: Play) -> str:
    if min(pair) >= found.limit_deg:
        return f"{_FREELY} (no stop within {found.limit_deg:g}°)"
    no_stop = f"{found.limit_deg:g}° and more"
    back, forth = (no_stop if v >= found.limit_deg else f"{v:.2f}°" for v in pair)
    return f"{back} either way" if back == forth else f"{back} one way and {forth} the other"
