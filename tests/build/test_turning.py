"""Which rounds of a part are proposed as turning shafts, and that what is proposed is led out."""

from __future__ import annotations

import numpy as np
import pytest

from housingdesk.build.pipeline import Builder
from housingdesk.build.turning import propose_zones
from housingdesk.features.site import Shaft
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, Spec
from housingdesk.spec.zones import ZoneSpec

Place = tuple[float, float, float]


class Held(dict[str, Mesh]):
    """Meshes by key."""

    def get(self, key: str) -> Mesh:  # type: ignore[override]
        return self[key]


def block(low: Place = (-20.0, -15.0, -10.0), high: Place = (20.0, 15.0, 10.0)) -> Solid:
    return Solid.box(np.array(low), np.array(high))


def rod(start: Place, end: Place, diameter_mm: float) -> Solid:
    return Solid.rod(start, end, diameter_mm / 2)


def proposed(*bodies: Solid, less: tuple[Solid, ...] = ()) -> tuple[tuple[ZoneSpec, ...], tuple[Shaft, ...]]:
    """Return what is proposed on bodies in one, and how it is led out."""
    whole = Solid.union(list(bodies))
    mesh = (whole - Solid.union(list(less)) if less else whole).mesh()
    zones = propose_zones("part", find_patches(mesh), mesh.vertices[mesh.faces])
    part = PartSpec(name="part", mesh_key=mesh.key)
    spec = Spec(
        parts=(part,), parting=PartingSpec(height_mm=10.0), fit=FitSpec(clearance_mm=1.0, zones=zones)
    )
    builder = Builder(Held({mesh.key: mesh}))
    shafts: tuple[Shaft, ...] = builder._graph.value("zones", spec, "draft").shafts
    return zones, shafts


def named(*bodies: Solid, less: tuple[Solid, ...] = ()) -> list[str]:
    return [z.name for z in proposed(*bodies, less=less)[0]]


def test_both_ends_of_a_shaft_are_led_out() -> None:
    zones, shafts = proposed(block(), rod((-40, 0, 2), (40, 0, 2), 5.0))
    assert [z.name for z in zones] == ["shaft", "shaft 2"]
    assert sorted(s.axis[0] for s in shafts) == pytest.approx([-1.0, 1.0])
    assert [(s.tip_mm - s.base_mm) @ s.axis for s in shafts] == pytest.approx([20.0, 20.0], abs=0.01)


def test_a_shaft_beside_something_that_reaches_further_is_led_out() -> None:
    can = rod((-10, -20, 0), (60, -20, 0), 16.0)
    zones, shafts = proposed(block((-10, -15, -10), (10, 15, 10)), can, rod((9, 5, 0), (32, 5, 0), 6.0))
    assert [z.name for z in zones] == ["shaft"]
    assert shafts[0].axis == pytest.approx((1, 0, 0), abs=1e-6)
    assert (shafts[0].tip_mm - shafts[0].base_mm) @ shafts[0].axis == pytest.approx(22.0, abs=0.01)


@pytest.mark.parametrize("apart_mm", [6.6, 7.2, 16.0])
def test_two_alike_beside_each_other_are_both_led_out(apart_mm: float) -> None:
    y = apart_mm / 2
    zones, shafts = proposed(block(), rod((19, -y, 0), (45, -y, 0), 6.0), rod((19, y, 0), (45, y, 0), 6.0))
    assert [z.name for z in zones] == ["shaft", "shaft 2"]
    assert [(s.tip_mm - s.base_mm) @ s.axis for s in shafts] == pytest.approx([25.0, 25.0], abs=0.01)


@pytest.mark.parametrize("wheel_mm", [(41, 45), (38, 42), (28, 32)])
def test_a_wheel_on_a_long_shaft_is_led_out_whole(wheel_mm: tuple[float, float]) -> None:
    zones, shafts = proposed(
        block(), rod((19, 0, 0), (45, 0, 0), 6.0), rod((wheel_mm[0], 0, 0), (wheel_mm[1], 0, 0), 16.0)
    )
    assert [z.name for z in zones] == ["shaft"]
    (shaft,) = shafts
    assert shaft.diameter_mm == pytest.approx(16.0, abs=0.01)
    assert (shaft.tip_mm - shaft.base_mm) @ shaft.axis == pytest.approx(25.0, abs=0.01)


def test_a_motor_with_pilot_bosses_has_the_shaft_only() -> None:
    can = rod((0, 0, 0), (40, 0, 0), 25.0)
    bosses = rod((-2.5, 0, 0), (42, 0, 0), 10.0)
    assert named(can, bosses) == []
    zones, _ = proposed(can, bosses, rod((39, 0, 0), (56, 0, 0), 3.0))
    assert [max(p.size_mm for p in z.patches) for z in zones] == pytest.approx([3.0], abs=0.05)


SHAFT = rod((19, 0, 0), (42, 0, 0), 6.0)
FOUR = [(x, y) for x in (-15.0, 15.0) for y in (-10.0, 10.0)]


def test_legs_beside_a_shaft_are_none() -> None:
    legs = [rod((x, y, -9), (x, y, -22), 3.0) for x, y in FOUR]
    zones, shafts = proposed(block(), SHAFT, *legs)
    assert [z.name for z in zones] == ["shaft"]
    assert shafts[0].diameter_mm == pytest.approx(6.0, abs=0.01)


BOARD = block((-25, -15, -0.8), (25, 15, 0.8))
JACK = block((-24, -5, 0), (-12, 4, 9))


@pytest.mark.parametrize(
    "bodies",
    [
        [block(), *(rod((x, y, -9), (x, y, -30), 3.0) for x, y in FOUR)],  # legs
        [block(), *(rod((x, 0, -9), (x, 0, -20), 4.0) for x in (-15, 15))],  # two short legs
        [block(), *(rod((-19, y, 0), (-34, y, 0), 1.6) for y in (-3, 3))],  # wires
        [block(), rod((15, 10, 9), (15, 10, 12.75), 6.5)],  # the head of a screw, as high as ISO 4762 goes
        [BOARD, rod((-21, -12, 0), (-21, -12, -12), 5.0)],  # a post on a board
        [BOARD, rod((0, 0, 0), (0, 0, 12), 8.0)],  # a round component on a board
        [BOARD, JACK, rod((-23, 0, 4.5), (-30, 0, 4.5), 8.0)],  # the barrel of a plug
        [
            block((-10, -15, -10), (10, 15, 10)),
            block((0, 11, -10), (40, 15, 10)),
            block((38, -15, -10), (42, 15, 10)),
            rod((9, 0, 0), (36, 0, 0), 4.0),
        ],  # its way is barred
    ],
)
def test_what_turns_not_is_not_proposed(bodies: list[Solid]) -> None:
    assert named(*bodies) == []


def test_a_nozzle_and_a_pin_in_its_socket_are_none() -> None:
    assert named(block(), rod((19, 0, 0), (35, 0, 0), 6.0), less=(rod((10, 0, 0), (36, 0, 0), 4.2),)) == []
    socket = block() - rod((2, 0, 0), (30, 0, 0), 18.0)
    assert named(socket, rod((1, 0, 0), (18, 0, 0), 4.0)) == []


def test_a_tapped_shaft_is_one() -> None:
    assert named(block(), SHAFT, less=(rod((30, 0, 0), (45, 0, 0), 2.5),)) == ["shaft"]
