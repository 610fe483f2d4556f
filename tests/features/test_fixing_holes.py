"""Holes for the part's own screws: ISO 273 sizes on the part's axes, and the squares of motor faces."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from housingdesk.errors import SpecError
from housingdesk.features.fixing_holes import FixingHoles
from housingdesk.features.site import Shaft
from tests.features.board import FLOOR_HOLES, board_site
from tests.features.sites import block_site, halves_with
from tests.features.slices import bore_at, holes, round_of

# ISO 273 M3: fine 3.2, medium 3.4, coarse 3.6 (engineeringhardware.com/?p=50; humechan.blogspot.in)
M3 = {"fine": 3.2, "medium": 3.4, "coarse": 3.6}


@pytest.mark.parametrize("fit", list(M3))
def test_each_hole_lies_on_a_hole_of_the_part(fit: Any) -> None:
    site = board_site(hole_extra_mm=0.2)
    lower = halves_with(site, FixingHoles(name="f", fit=fit))["lower"]
    rounds = [round_of(h) for h in holes(lower, (0, 0, -2.2), (0, 0, 1))]
    middles = sorted(tuple(np.round(m[:2], 2).tolist()) for m, _, _ in rounds)
    assert middles == [pytest.approx(p, abs=0.02) for p in sorted(FLOOR_HOLES)]
    for _, least, most in rounds:
        assert 2 * least == pytest.approx(M3[fit] + 0.2, abs=0.002)
        assert 2 * most == pytest.approx(M3[fit] + 0.2, abs=0.02)


def test_screws_are_long_enough_and_do_not_reach_the_bottom() -> None:
    # 0.5 washer + 2.4 wall + 1.0 gap = 3.9 to the part, whose holes are 6 deep: M3 x 8 engages 4.1 and ends
    # 1.9 before the bottom; M3 x 10, the next on sale, would meet it.
    line = FixingHoles(name="f").build(board_site()).bill[0]
    assert (line.count, line.what, line.standard) == (4, "socket head cap screw M3 x 8", "ISO 4762")


def test_the_guess_of_the_size_is_told() -> None:
    auto = {f.code: f for f in FixingHoles(name="f").build(board_site()).findings}["fixing-size"]
    assert auto.severity == "caution" and "for M3" in auto.message
    said = {f.code: f for f in FixingHoles(name="f", size="M2.5").build(board_site()).findings}["fixing-size"]
    assert said.severity == "pass"


# Squares from the published bolt circles 1.725 and 2.625 inch over sqrt2 (massmind.org nemasizes).
@pytest.mark.parametrize(
    # Holes by ISO 273 medium (see above); which screw a face takes is from memory, so it is said here.
    ("pattern", "spacing_mm", "size", "hole_mm"),
    [("NEMA 17", 43.815 / 2**0.5, "M3", 3.4), ("NEMA 23", 66.675 / 2**0.5, "M5", 5.5)],
)
def test_a_motor_face_is_a_square_about_its_shaft(
    pattern: Any, spacing_mm: float, size: Any, hole_mm: float
) -> None:
    up = np.array([0.0, 0.0, 1.0])
    shaft = Shaft("shaft", np.array([2.0, -1.0, 10.0]), np.array([2.0, -1.0, 40.0]), up, 5.0, 0.5)
    big = np.array([70.0, 70.0, 16.0])
    from housingdesk.geometry.solid import Solid

    part = Solid.box(-big / 2 + [0, 0, 8], big / 2 + [0, 0, 8]).mesh()
    cavity = {s: Solid.box(np.array([-36.0, -36, -40]), np.array([36.0, 36, 60])) for s in ("lower", "upper")}
    cavity = {"lower": cavity["lower"].above(-1), "upper": cavity["upper"].below(17)}
    outer = np.array([[-38.4, -38.4, -3.4], [38.4, 38.4, 19.4]])
    site = block_site(
        shafts=(shaft,), parts={"m": part}, patches={"m": ()}, cavity=cavity, outer_mm=outer,
        form=Solid.box(*outer),
    )  # fmt: skip
    feature = FixingHoles(name="f", side="roof", pattern=pattern, size=size, turn_deg=0.0)
    upper = halves_with(site, feature)["upper"]
    for z in (17.05, 18.2, 19.35):  # straight through the wall
        found = [round_of(h) for h in holes(upper, (0, 0, z), (0, 0, 1))]
        places = sorted(tuple(middle[:2].tolist()) for middle, _, _ in found)
        half = spacing_mm / 2
        square = [(2.0 + i * half, -1.0 + j * half) for i in (-1, 1) for j in (-1, 1)]
        assert places == [pytest.approx(p, abs=0.03) for p in square]
        for _, least, most in found:
            assert [2 * least, 2 * most] == pytest.approx([hole_mm, hole_mm], abs=0.02)
    turned = feature.model_copy(update={"turn_deg": 45.0}).build(site)
    away = [np.hypot(o.centre_mm[0] - 2.0, o.centre_mm[1] + 1.0) for o in turned.openings]
    assert away == pytest.approx([spacing_mm / 2**0.5] * 4, abs=0.03)
    assert min(abs(o.centre_mm[0] - 2.0) for o in turned.openings) == pytest.approx(0.0, abs=1e-9)
    with_pilot = feature.model_copy(update={"pilot": True}).build(site)
    assert len(with_pilot.openings) == 5
    # The shoulder of both faces by the same page: 22 and 38.1; with 1.0 clearance a side.
    wide = {"NEMA 17": 22.0, "NEMA 23": 38.1}[pattern] + 2.0
    bored = halves_with(site, feature.model_copy(update={"pilot": True}))["upper"]
    assert bore_at(bored, (2.0, -1.0), 18.2) == pytest.approx((wide, wide), abs=0.03)
    assert any("calipers" in f.remedy for f in with_pilot.findings)


def test_one_hole_is_picked_by_clicking_it_and_all_by_clicking_beside_them() -> None:
    site = board_site()
    x, y = FLOOR_HOLES[1]
    down = np.array([0.0, 0.0, -1.0])
    picked = FixingHoles.at(np.array([x + 1.0, y - 1.0, -3.4]), down, site)
    assert picked is not None
    lower = halves_with(site, picked.model_copy(update={"name": "f"}))["lower"]
    ((middle, least, _),) = [round_of(h) for h in holes(lower, (0, 0, -2.2), (0, 0, 1))]
    assert middle[:2] == pytest.approx((x, y), abs=0.02)
    assert 2 * least == pytest.approx(M3["medium"], abs=0.002)
    # Dragged, it goes to the hole that is nearest then.
    to = FLOOR_HOLES[2]
    dragged = picked.moved("place", np.array([to[0] + 2.0, to[1], -3.4]), 8.0)
    at = dragged.model_copy(update={"name": "f"}).build(site).openings
    assert [o.centre_mm[:2] for o in at] == [pytest.approx(to, abs=0.02)]
    beside = FixingHoles.at(np.array([0.0, 0.0, -3.4]), down, site)
    assert beside is not None and beside.pattern == "the part's own holes"


def test_proposed_on_the_side_with_most_holes_and_refused_elsewhere() -> None:
    site = board_site()
    first = FixingHoles.proposed(site)
    assert first is not None and first.side == "floor"
    with pytest.raises(SpecError, match="no screw holes"):
        FixingHoles(name="f", side="left").build(site)
