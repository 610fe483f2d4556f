"""What is said of play: closed-form motions, what stops a turn, and a part that falls out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from scipy.optimize import brentq

from housingdesk.deliver.output import _play
from housingdesk.features.records import Contact
from housingdesk.geometry.freedom import Play
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.proof.facts import PlayFacts
from housingdesk.proof.play import FLUSH_MM, crushed, judged, measure_play, stops
from tests.proof.halves import block, both, common, mesh, minus

MIDDLE, UP = np.zeros(3), np.array([0.0, 0.0, 1.0])


def split(body: trimesh.Trimesh) -> list[Mesh]:
    low, high = body.bounds
    return [
        mesh(common(body, block(low, [*high[:2], 0.0]))),
        mesh(common(body, block([*low[:2], 0.0], high))),
    ]


def facts(part: Mesh, halves: list[Mesh], about: str = "shaft") -> PlayFacts:
    found = measure_play(part, halves, MIDDLE, UP)
    made = PlayFacts(about, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), found)
    return judged(replace(made, stops=stops(part, find_patches(part), halves, made)))


def test_a_square_bar_is_stopped_by_its_flats() -> None:
    # Closed form: a bar of side a turns in a hole of side A by t with a (cos t + sin t) = A.
    part = mesh(block([-5, -5, -10], [5, 5, 10]))
    halves = split(minus(block([-20, -20, -20], [20, 20, 20]), block([-5.5, -5.5, -11], [5.5, 5.5, 11])))
    found = facts(part, halves)
    angle = math.degrees(brentq(lambda t: 10 * (math.cos(t) + math.sin(t)) - 11, 0, math.pi / 4))
    assert found.now.turn_deg == pytest.approx((angle, angle), abs=1e-6)
    assert found.stops == ("Flat 20 x 10",)
    (line,) = found.findings
    assert line.severity == "pass"
    assert f"{angle:.2f}° either way" in line.message
    assert "0.50 mm left and right" in line.message
    assert "1.00 mm down and up" in line.message
    assert "Flat 20 x 10" in line.message
    # Tipped over, it is stopped across its length: 10 cos t + 20 sin t = 11.
    tip = math.degrees(brentq(lambda t: 10 * math.cos(t) + 20 * math.sin(t) - 11, 0, math.pi / 4))
    assert found.now.turn_x_deg == pytest.approx((tip, tip), abs=1e-6)
    assert f"It turns about left-right {tip:.2f}° either way and about front-back {tip:.2f}°" in line.message
    assert "about the upright axis" not in line.message  # which is the shaft's


def test_a_part_without_play_is_said_to_be_held() -> None:
    none = (0.0, 0.0)
    held = Play(none, none, none, none, none, none, none, 3.0, 45.0)
    loose = replace(held, x_mm=(0.4, 0.51), turn_deg=(1.0, 2.0))
    about = PlayFacts("shaft", (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), held, before=loose)
    (line,) = judged(about).findings
    assert line.message == (
        "In the closed housing the part can neither move nor turn about the shaft. It cannot turn about "
        "left-right or front-back. Without ribs and pads it could move 0.40 mm left and 0.51 mm right, "
        "0.00 mm to the front and to the back, 0.00 mm down and up and turn 1.00° one way and 2.00° the "
        "other about the shaft."
    )
    aslant = replace(about, axis=(0.0, 0.6, 0.8), now=replace(held, turn_x_deg=(0.2, 0.31)), before=None)
    assert (
        "It turns about left-right 0.20° one way and 0.31° the other, about front-back not at all and about "
        "the upright axis not at all."
    ) in judged(aslant).findings[0].message


def test_a_round_motor_whose_torque_nothing_takes_is_a_caution() -> None:
    rod, hole = (trimesh.creation.cylinder(r, h, sections=64) for r, h in ((5, 20), (5.5, 22)))
    found = facts(mesh(rod), split(minus(block([-20, -20, -20], [20, 20, 20]), hole)))
    assert found.now.turns_freely
    assert found.stops == ()
    assert found.findings[0].severity == "caution"
    assert "torque" in found.findings[0].message
    assert "freely (no stop within 180°) about the shaft" in found.findings[0].message
    assert _play(found.now)["turn_deg"] == [None, None]
    # without a shaft nobody turns it
    assert facts(mesh(rod), split(minus(block([-20] * 3, [20] * 3), hole)), "").findings[0].severity == "pass"


def test_a_part_that_falls_out_of_an_opening_is_said() -> None:
    cavity = block([-5.5, -5.5, -11], [50, 5.5, 11])  # open to the right
    found = facts(
        mesh(block([-5, -5, -10], [5, 5, 10])), split(minus(block([-20, -20, -20], [20, 20, 20]), cavity))
    )
    assert found.now.x_mm == (pytest.approx(0.5), found.now.limit_mm)
    assert found.findings[0].severity == "caution"
    assert "0.50 mm left and freely right (no stop within 10 mm), 0.50 mm to" in found.findings[0].message
    written = _play(found.now)
    assert written["x_mm"] == [pytest.approx(-0.5), None]
    assert written["y_mm"] == [pytest.approx(-0.5), pytest.approx(0.5)]
    assert set(written) == {f"{a}_mm" for a in "xyz"} | {f"turn_{a}_deg" for a in "xyz"} | {"turn_deg"}
    assert "nothing holds it" in found.findings[0].message


def test_crushed_ribs_end_flush_with_the_part_and_only_there() -> None:
    part = block([-5, -5, -10], [5, 5, 10])
    room = minus(block([-20, -20, -20], [20, 20, 20]), block([-6, -6, -11], [6, 6, 11]))
    rib = block([4.8, -1, -4], [6.5, 1, -2])  # 0.2 into the part's right side
    halves = split(both(room, rib))
    contact = Contact((5.0, 0.0, -3.0), 2.0, 0.2, (1.0, 0.0, 0.0))
    flush = crushed(halves, (contact,))
    # by volume: the rib's 2 x 2 mm tip, 0.2 deep, is gone, and nothing else
    gone = sum(h.volume_mm3 for h in halves) - sum(h.volume_mm3 for h in flush)
    assert gone == pytest.approx(2 * 2 * (0.2 + FLUSH_MM), abs=1e-3)
    held = measure_play(mesh(part), halves, MIDDLE, UP, (contact,))
    assert held.x_mm == pytest.approx((1.0, 0.0), abs=2 * FLUSH_MM)
    assert held.y_mm == pytest.approx((1.0, 1.0), abs=1e-6)
    assert held.z_mm == pytest.approx((1.0, 1.0), abs=1e-6)
