"""Play of several parts: each alone, stopped by halves and by the others; figures by closed form."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.build.pipeline import Builder
from housingdesk.build.zoning import reference
from housingdesk.deliver.output import proof_document
from housingdesk.features.ribs import Ribs
from housingdesk.finding import Finding
from housingdesk.geometry.patches import find_patches
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, Spec
from housingdesk.spec.zones import Purpose, ZoneSpec
from housingdesk.view3d.arrows import play_arrows

BOX = trimesh.creation.box(bounds=[[-20, -15, 0], [20, 15, 20]])
PART = Mesh(BOX.vertices, BOX.faces)
CHIP = trimesh.creation.box(bounds=[[10, -5, 6], [23, 5, 14]])
_RAISED = trimesh.boolean.union([BOX, CHIP], engine="manifold")
PART_WITH_CHIP = Mesh(_RAISED.vertices, _RAISED.faces)
GAP, ROOM = 0.5, 3.0


class Held(dict[str, Mesh]):
    def get(self, key: str) -> Mesh:  # type: ignore[override]  # a missing mesh is a bug here
        return self[key]


@pytest.fixture(scope="module")
def builder() -> Builder:
    return Builder(Held({PART.key: PART, PART_WITH_CHIP.key: PART_WITH_CHIP}))


def part(name: str, x: float = 0.0) -> PartSpec:
    there = np.eye(4)
    there[0, 3] = x
    return PartSpec(name=name, mesh_key=PART.key, placement=tuple(there.ravel().tolist()))


def zone(
    name: str, on: str, clearance: float, *facing: tuple[int, int], purpose: Purpose = "held"
) -> ZoneSpec:
    """A zone of the sides that look some (axis, way); of all of them without any."""
    flats = [
        p for p in find_patches(PART) if not facing or any(p.axis[axis] * way > 0.9 for axis, way in facing)
    ]
    return ZoneSpec(
        name=name, part=on, purpose=purpose, clearance_mm=clearance, patches=tuple(map(reference, flats))
    )


def wish(parts: tuple[PartSpec, ...], *zones: ZoneSpec, **more: object) -> Spec:
    fit = FitSpec(clearance_mm=GAP, zones=zones)
    return Spec(parts=parts, parting=PartingSpec(height_mm=10.0), fit=fit, **more)


def test_a_second_loose_part_is_seen(builder: Builder) -> None:
    spec = wish((part("first"), part("second", 60.0)), zone("roomy", "second", ROOM))
    result = builder.build(spec, "final")
    found = result.play
    assert found is not None
    first, second = found.parts
    for one, room in ((first, GAP), (second, ROOM)):
        for pair in (one.now.x_mm, one.now.y_mm, one.now.z_mm):
            assert pair == pytest.approx((room, room), abs=0.03)
    assert (found.part, found.now) == ("second", second.now)
    lines = [f.message for f in result.findings if f.code == "play"]
    assert len(lines) == 2
    assert any("the part 'first' can move 0.5" in line for line in lines)
    assert any("the part 'second' can move 3.0" in line for line in lines)
    # the arrows stand beside the loosest part, not in the middle of both
    low, high = result.outer_mm
    up = play_arrows(found, result.outer_mm)[-2]
    assert up.from_mm == pytest.approx((second.middle_mm[0], second.middle_mm[1], high[2]))  # type: ignore[index]
    assert abs(up.from_mm[0] - (low[0] + high[0]) / 2) > 10


def test_ribs_on_one_part_do_not_hold_the_other(builder: Builder) -> None:
    parts = (part("first"), part("second", 60.0))
    spec = wish(parts, zone("roomy", "second", ROOM), features=(Ribs(name="r", length_mm=2.0),))
    found = builder.play(spec)
    first, second = found.parts
    assert max(*first.now.x_mm, *first.now.y_mm) < 0.01
    assert second.now.x_mm == pytest.approx((ROOM, ROOM), abs=0.03)
    assert found.part == "second"


def test_a_part_is_stopped_by_the_other_where_it_lies(builder: Builder) -> None:
    # 1.2 mm between the boxes, both in one cavity: towards each other 1.2, away from each other the gap.
    found = builder.play(wish((part("first"), part("second", 41.2))))
    first, second = found.parts
    assert first.now.x_mm == pytest.approx((GAP, 1.2), abs=0.03)
    assert second.now.x_mm == pytest.approx((1.2, GAP), abs=0.03)
    # touching parts stop each other and slide along each other; so do those drawn a little into each other
    for away, more in ((40.0, 0.01), (39.96, 0.05)):
        first, second = builder.play(wish((part("first"), part("second", away)))).parts
        assert first.now.x_mm == pytest.approx((GAP, 0.0), abs=0.03 + more)
        assert second.now.x_mm == pytest.approx((0.0, GAP), abs=0.03 + more)
        assert first.now.y_mm == pytest.approx((GAP, GAP), abs=0.03)
        assert second.now.z_mm == pytest.approx((GAP, GAP), abs=0.03)


def test_parts_pressed_into_each_other_move_as_one(builder: Builder) -> None:
    first, second = builder.play(wish((part("first"), part("second", 35.0)))).parts
    assert first.now == second.now
    assert first.now.x_mm == pytest.approx((GAP, GAP), abs=0.03)


def test_one_part_is_said_as_before(builder: Builder) -> None:
    result = builder.build(wish((part("first"),)), "final")
    assert result.play is not None
    assert (result.play.part, result.play.parts, result.play.middle_mm) == ("", (), None)
    (line,) = (f.message for f in result.findings if f.code == "play")
    assert line.startswith("In the closed housing the part can move 0.5")


def test_proof_json_lists_the_parts(builder: Builder) -> None:
    for spec, names in (
        (wish((part("first"), part("second", 60.0)), zone("roomy", "second", ROOM)), ["first", "second"]),
        (wish((part("first"),)), None),
    ):
        result = builder.build(spec, "final")
        assert result.facts is not None
        files = [f"{p.name}.stl" for p in spec.parts]
        play = proof_document(result, result.facts, {"lower": 1, "upper": 1}, files, {})["play"]
        assert (None if names is None else [p["name"] for p in play["parts"]]) == names
        loosest = play if names is None else play["parts"][1]
        assert play["x_mm"] == loosest["x_mm"]
        keys = {"x_mm", "y_mm", "z_mm", "turn_deg"}
        assert set(play) >= keys
        assert ("parts" in play) == (names is not None)


def chips(spec: Spec, builder: Builder) -> list[Finding]:
    return [f for f in builder.build(spec, "final").findings if f.code == "hot-touch"]


def test_a_hot_end_that_stops_the_part_is_a_caution(builder: Builder) -> None:
    # However much air it has, nothing else stops the part on that side.
    (said,) = chips(wish((part("first"),), zone("chip", "first", 1.5, (0, 1), purpose="hot")), builder)
    assert said.severity == "caution"
    assert "The hot zone 'chip' touches the housing when the part is pushed to the right" in said.message
    assert "ribs or pads at other faces" in said.remedy
    assert said.where_mm is not None
    assert said.where_mm[0] == pytest.approx(20, abs=0.01)


def board(chip: float) -> Spec:
    """A board with a chip that is hot."""
    raised = PART_WITH_CHIP
    parts = (PartSpec(name="board", mesh_key=raised.key),)
    faces = [p for p in find_patches(raised) if p.centre_mm[0] > 21]
    hot = ZoneSpec(
        name="chip", part="board", purpose="hot", clearance_mm=chip, patches=tuple(map(reference, faces))
    )
    return wish(parts, hot)


@pytest.mark.parametrize(("chip", "left"), [(1.0, None), (0.65, None), (0.57, 0.07), (0.3, 0.0)])
def test_a_hot_chip_keeps_the_air_that_the_body_leaves_it(builder: Builder, chip: float, left: float) -> None:
    # A chip stands 3 mm out of the right side; the body stops the part after 0.5, so its air is 0.5 less.
    said = chips(board(chip), builder)
    if left is None:
        assert said == []
    else:
        assert len(said) == 1
        assert ("touches" if left == 0 else "comes within 0.0") in said[0].message
        assert "when the part is pushed" in said[0].message


def test_ribs_elsewhere_keep_a_hot_chip_off(builder: Builder) -> None:
    spec = board(0.4)
    assert len(chips(spec, builder)) == 1
    ribs = Ribs(name="r", length_mm=2.0)
    assert chips(spec.model_copy(update={"features": (ribs,)}), builder) == []
