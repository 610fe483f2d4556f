"""Ways out of shafts: what is said where they meet no wall, end inside, or meet each other."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from housingdesk.build.passages import Passage, passage, seats
from housingdesk.build.standing import passage_findings
from housingdesk.features.site import Shaft
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.solid import Solid
from housingdesk.spec.zones import PatchRef, ZoneSpec

FORM = Solid.box(np.array([-20.0, -20.0, -10.0]), np.array([20.0, 20.0, 10.0]))


def shaft(
    name: str = "shaft", base: Any = (0, 0, 0), axis: Any = (1, 0, 0), length_mm: float = 30.0
) -> Shaft:
    a, b = np.array(axis, float), np.array(base, float)
    return Shaft(name, b, b + length_mm * a, a, 5.0, 0.5)


def made(*shafts: Shaft) -> tuple[Passage, ...]:
    return tuple(p for s in shafts if (p := passage(s, FORM, 0.6)) is not None)


def found(*shafts: Shaft, added: Solid | None = None, **works: Work) -> list[Finding]:
    """What is said of shafts in the form, with what a feature adds to it."""
    ways = made(*shafts)
    whole = (FORM if added is None else FORM | added).without([p.cut for p in ways])
    halves = [whole.below(0.0).mesh(), whole.above(0.0).mesh()]
    return list(passage_findings(shafts, ways, halves, works))


def codes(*shafts: Shaft) -> list[str]:
    return [f.code for f in found(*shafts)]


def test_a_hole_is_drawn_as_wide_as_shaft_and_clearance() -> None:
    (way,) = made(shaft())
    assert way.diameter_mm == pytest.approx(5.0 + 2 * 0.5, abs=1e-6)


@pytest.mark.parametrize(("length_mm", "code"), [(30.0, "passage-out"), (21.0, "passage-stub")])
def test_it_is_said_how_far_a_shaft_stands_out(length_mm: float, code: str) -> None:
    (said,) = found(shaft(length_mm=length_mm))
    assert said.code == code
    assert f"{length_mm - 20:.1f} mm out" in said.message  # the face is at 20


def test_a_shaft_outside_the_housing_meets_no_wall() -> None:
    assert codes(shaft(base=(25, 0, 0))) == ["passage-no-wall"]


def test_a_shaft_that_ends_inside_is_told_by_how_much() -> None:
    (said,) = found(shaft(length_mm=17.5))
    assert said.code == "passage-ends-inside"
    assert "2.5 mm" in said.message  # the face is at 20


# A column at one corner reaches from the face at 20 to 24; its edge is 14 mm beside the axis.
COLUMN = Solid.box(np.array([15.0, 14.0, -10.0]), np.array([24.0, 20.0, 10.0]))


@pytest.mark.parametrize(
    ("length_mm", "code", "words"),
    [
        (30.0, "passage-out", ["10.0 mm out of the wall", "6.0 mm past all else"]),
        (23.0, "passage-beside", ["3.0 mm out of the wall", "Lid screws", "1.0 mm further out", "14.0 mm"]),
        (21.0, "passage-stub", ["only 1.0 mm out of the wall", "3.0 mm further out", "14.0 mm"]),
    ],
)
def test_all_that_stands_beside_a_shaft_counts(length_mm: float, code: str, words: list[str]) -> None:
    screws = Work(stands=(COLUMN,))
    (said,) = found(shaft(length_mm=length_mm), added=COLUMN, **{"Lid screws": screws})
    assert said.code == code
    assert [w for w in words if w not in said.message] == []


def test_an_ear_at_one_side_of_the_mouth_is_no_wall() -> None:
    ear = Solid.box(
        np.array([15.0, 3.8, -10.0]), np.array([24.0, 20.0, 10.0])
    )  # the mouth is 3.6 wide a side
    (said,) = found(shaft(length_mm=30.0), added=ear)
    assert "10.0 mm out of the wall" in said.message
    assert "6.0 mm past" in said.message


def test_a_boss_all_round_the_mouth_is_wall() -> None:
    boss = Solid.rod((15.0, 0, 0), (25.0, 0, 0), 9.0)
    one = shaft(length_mm=30.0)
    (way,) = made(one)
    whole = (FORM | boss) - Solid.rod((0, 0, 0), (40, 0, 0), way.diameter_mm / 2, outside=True)
    (said,) = passage_findings((one,), (way,), [whole.mesh()], {})
    assert "5.0 mm out of the housing" in said.message


def test_a_shaft_too_short_for_its_bearing_is_told_once() -> None:
    short = Finding("seat-short-shaft", "fail", "It is short.", "", (25.0, 0.0, 0.0))
    assert found(shaft(length_mm=21.0), **{"Seat of the shaft": Work(findings=(short,))}) == []
    elsewhere = Finding("seat-short-shaft", "fail", "It is short.", "", (-25.0, 0.0, 0.0))
    assert len(found(shaft(length_mm=21.0), Seat=Work(findings=(elsewhere,)))) == 1


@pytest.mark.parametrize(("apart_mm", "meets"), [(0.0, True), (5.5, True), (7.5, False)])
def test_passages_that_meet_are_said(apart_mm: float, meets: bool) -> None:
    # Holes of 5 + 2 x 0.5 = 6 and chamfers of 0.6 cross: they meet when nearer than 6 or so.
    one, other = shaft("one"), shaft("other", base=(0, 0, apart_mm), axis=(0, 1, 0))
    assert ("passages-meet" in codes(one, other)) is meets


@pytest.mark.parametrize(("from_side_mm", "chamfer_mm"), [(10.0, 0.6), (5.7, 0.3), (5.0, 0.0)])
def test_a_mouth_leaves_the_wall_beside_it(from_side_mm: float, chamfer_mm: float) -> None:
    # A hole of 6 and a wall of 2.4: 5.4 from the side there is room for no chamfer, 6.0 for all of 0.6.
    way = passage(shaft(base=(0, 20 - from_side_mm, 0)), FORM, 0.6, 2.4)
    assert way is not None
    widest = np.ptp(way.through_mm[:, 2])  # across, where no side is near
    assert widest == pytest.approx(6.0 + 2 * chamfer_mm, abs=0.03)


def test_zones_name_their_seats() -> None:
    ref = PatchRef(kind="cylinder", centre_mm=(0, 0, 0), axis=(1, 0, 0), size_mm=5, length_mm=10)
    plain = ZoneSpec(name="a", part="p", purpose="turning", patches=(ref,), clearance_mm=0.5)
    ball = ZoneSpec(
        name="b", part="p", purpose="turning", patches=(ref,), clearance_mm=0.5, seat="bearing", bearing="625"
    )
    held = ball.model_copy(update={"name": "c", "purpose": "held"})
    (seat,) = seats((plain, ball, held))
    assert (seat.zone, seat.seat, seat.bearing, seat.kind) == ("b", "bearing", "625", "seat")
    assert seat.name == "Seat of the b"  # begins a sentence


@pytest.mark.parametrize("rise_deg", [0.0, 20.0, 45.0])
def test_a_hole_that_goes_out_aslant_is_open_all_round_its_mouth(rise_deg: float) -> None:
    """By geometry: a bar of the hole's width meets nothing of the form any more."""
    rise = np.radians(rise_deg)
    slanted = shaft(axis=(np.cos(rise), 0.0, np.sin(rise)))
    (way,) = made(slanted)
    bar = Solid.rod(slanted.base_mm, slanted.tip_mm + 30 * slanted.axis, way.diameter_mm / 2)
    assert ((FORM - way.cut) & bar).volume_mm3 < 1e-6
    assert ("passage-aslant" in codes(slanted)) is (rise_deg > 0)
