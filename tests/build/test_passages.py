"""Ways out of shafts: what is said where they meet no wall, end inside, or meet each other."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from housingdesk.build.passages import Passage, passage, passage_findings, seats
from housingdesk.features.site import Shaft
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


def codes(*shafts: Shaft) -> list[str]:
    return [f.code for f in passage_findings(shafts, made(*shafts))]


@pytest.mark.parametrize(("length_mm", "code"), [(30.0, "passage-out"), (21.0, "passage-stub")])
def test_it_is_said_how_far_a_shaft_stands_out(length_mm: float, code: str) -> None:
    far = shaft(length_mm=length_mm)
    (said,) = passage_findings((far,), made(far))
    assert said.code == code
    assert f"{length_mm - 20:.1f} mm out" in said.message  # the face is at 20


def test_a_shaft_outside_the_housing_meets_no_wall() -> None:
    assert codes(shaft(base=(25, 0, 0))) == ["passage-no-wall"]


def test_a_shaft_that_ends_inside_is_told_by_how_much() -> None:
    short = shaft(length_mm=17.5)
    (said,) = passage_findings((short,), made(short))
    assert said.code == "passage-ends-inside"
    assert "2.5 mm" in said.message  # the face is at 20


@pytest.mark.parametrize(("apart_mm", "meets"), [(0.0, True), (5.5, True), (7.5, False)])
def test_passages_that_meet_are_said(apart_mm: float, meets: bool) -> None:
    # Holes of 5 + 2 x 0.5 = 6 and chamfers of 0.6 cross: they meet when nearer than 6 or so.
    one, other = shaft("one"), shaft("other", base=(0, 0, apart_mm), axis=(0, 1, 0))
    assert ("passages-meet" in codes(one, other)) is meets


@pytest.mark.parametrize(("from_side_mm", "chamfer_mm"), [(10.0, 0.6), (5.7, 0.3), (5.0, 0.0)])
def test_a_mouth_leaves_the_wall_beside_it(from_side_mm: float, chamfer_mm: float) -> None:
    # A hole of 6 and a wall of 2.4: 5.4 from the side there is room for no chamfer, 6.0 for all of 0.6.
    found = passage(shaft(base=(0, 20 - from_side_mm, 0)), FORM, 0.6, 2.4)
    assert found is not None
    widest = np.ptp(found.through_mm[:, 2])  # across, where no side is near
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


@pytest.mark.parametrize("rise_deg", [0.0, 20.0, 45.0])
def test_a_hole_that_goes_out_aslant_is_open_all_round_its_mouth(rise_deg: float) -> None:
    """By geometry: a bar of the hole's width meets nothing of the form any more."""
    rise = np.radians(rise_deg)
    slanted = shaft(axis=(np.cos(rise), 0.0, np.sin(rise)))
    (way,) = made(slanted)
    bar = Solid.rod(slanted.base_mm, slanted.tip_mm + 30 * slanted.axis, way.diameter_mm / 2)
    assert ((FORM - way.cut) & bar).volume_mm3 < 1e-6
    assert ("passage-aslant" in codes(slanted)) is (rise_deg > 0)
