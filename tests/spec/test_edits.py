"""Edits: what they change, what they keep, what they refuse."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from housingdesk.errors import SpecError
from housingdesk.geometry.frames import PULLS, PullDirection, build_frame, rotation_about
from housingdesk.geometry.types import Floats, Mesh
from housingdesk.spec import edits, placing
from housingdesk.spec.models import HOUSING_SIDES, IDENTITY, FitSpec, PartingSpec, PartSpec, ShellSpec, Spec


def block(x: float, y: float, z: float, at: tuple[float, float, float] = (0, 0, 0)) -> Mesh:
    """A box with one corner at ``at``, and one stray vertex that no face uses."""
    corners = np.array([[i, j, k] for i in (0, x) for j in (0, y) for k in (0, z)], float) + at
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    return Mesh(np.vstack([corners, [[9e3, 9e3, 9e3]]]), np.array(faces))


MOTOR = block(40, 20, 10)
BOARD = block(30, 25, 2, at=(100, 7, 3))
MESHES = {m.key: m for m in (MOTOR, BOARD)}
ONE = Spec(parts=(PartSpec(name="motor", mesh_key=MOTOR.key),), parting=PartingSpec(height_mm=4))
TWO = edits.add_part(PartSpec(name="board", mesh_key=BOARD.key), BOARD).apply(ONE, MESHES)


def matrix_of(spec: Spec, name: str) -> Floats:
    return np.reshape(next(p for p in spec.parts if p.name == name).placement, (4, 4))


def placed(spec: Spec) -> list[Mesh]:
    return [MESHES[p.mesh_key].moved(placing.part_to_assembly(p)) for p in spec.parts]


# --- numbers ----------------------------------------------------------------------------------------


def test_number_edits_change_their_field_and_nothing_else() -> None:
    assert edits.set_wall(3.0).apply(ONE, MESHES) == edits.changed(ONE, shell=ShellSpec(wall_mm=3.0))
    assert edits.set_clearance(0.8).apply(ONE, MESHES) == edits.changed(ONE, fit=FitSpec(clearance_mm=0.8))
    assert edits.set_seal(2.0).apply(ONE, MESHES) == edits.changed(ONE, fit=FitSpec(seal_mm=2.0))
    assert edits.set_parting_height(7).apply(ONE, MESHES) == edits.changed(
        ONE, parting=PartingSpec(height_mm=7)
    )


@pytest.mark.parametrize("side", HOUSING_SIDES)
def test_a_side_is_fixed_and_freed(side: str) -> None:
    fixed = edits.set_side(side, -3.5).apply(ONE, MESHES)  # type: ignore[arg-type]  # drawn from the literals
    assert {s: fixed.shell.reach_mm(s) for s in HOUSING_SIDES} == {
        s: -3.5 if s == side else None for s in HOUSING_SIDES
    }
    assert edits.set_side(side, None).apply(fixed, MESHES) == ONE  # type: ignore[arg-type]  # as above


@pytest.mark.parametrize(
    ("edit", "sentence"),
    [
        (edits.set_wall(0.1), "The wall must be between 0.4 and 50 mm."),
        (edits.set_wall(math.nan), "The wall must be between 0.4 and 50 mm."),
        (edits.set_clearance(-1), "The clearance must be between 0 and 20 mm."),
        (edits.set_seal(math.inf), "The width of gaps to fill must be between 0 and 20 mm."),
        (edits.set_side("roof", 1e4), "The reach of the roof must be between -500 and 500 mm."),
        (edits.set_parting_height(-2), "The height of the parting plane must be more than 0 mm."),
        (
            edits.set_parting_height(10),
            "The parting plane must lie inside the parts: more than 0 and less than 10 mm "
            "above their lowest point.",
        ),
        (edits.set_pull("+x", 40), "The parting plane must lie inside the parts: more than 0 and less than"),
        (edits.remove_part("motor"), "A housing needs at least one part;"),
        (edits.remove_part("fan"), "There is no part named fan;"),
        (edits.rename("motor", " "), "The name of the part must have between 1 and 80 characters."),
        (edits.turn("motor", (0, 0, 0), 90), "A direction must have a length;"),
        (edits.lay_flat("motor", (0, math.nan, 1)), "A direction must have a length;"),
        (edits.place("motor", np.diag([2, 2, 2, 1])), "A part can only be turned and moved;"),
        (edits.place("motor", np.diag([1, 1, -1, 1])), "A part can only be turned and moved;"),
        (edits.place("motor", np.full((4, 4), math.nan)), "A part can only be turned and moved;"),
        (edits.set_scale_by_measure("motor", 0, 3), "A measured dimension must be more than 0 mm;"),
        (edits.set_scale_by_measure("motor", 3, math.nan), "A measured dimension must be more than 0 mm;"),
        (edits.set_scale_by_measure("motor", 1, 1e9), "The scale of the part must be more than"),
    ],
)
def test_a_broken_limit_is_one_sentence(edit: edits.Edit, sentence: str) -> None:
    with pytest.raises(SpecError) as caught:
        edit.apply(ONE, MESHES)
    said = str(caught.value)
    assert said.startswith(sentence)
    assert said.endswith(".") and "\n" not in said


def test_a_part_whose_mesh_is_not_at_hand_is_named() -> None:
    with pytest.raises(SpecError, match="form of motor is missing"):
        edits.turn("motor", (1, 0, 0), 90).apply(ONE, {})


# --- unit and scale ---------------------------------------------------------------------------------


def test_a_given_unit_replaces_a_measured_scale_and_keeps_the_planes_share() -> None:
    measured = edits.set_scale_by_measure("motor", 80, 40).apply(ONE, MESHES)
    inch = edits.set_unit("motor", "inch").apply(measured, MESHES)
    part = inch.parts[0]
    assert (part.unit, part.unit_origin, part.scale, part.scale_mm) == ("inch", "given", 1.0, 25.4)
    # 4 of 10 mm stays 40 % of the height: 0.4 * 10 * 25.4.  25.4 mm per inch is exact (1959 agreement).
    assert inch.parting.height_mm == pytest.approx(101.6, rel=1e-12)


@pytest.mark.parametrize(
    ("measured_mm", "file_length", "unit", "scale"),
    [
        (40.0, 40.0, "mm", 1.0),
        (40.07, 40.0, "mm", 1.0),  # within the reading's error
        (40.5, 40.0, "mm", 40.5 / 40.0),
        (57.0, 5.7, "cm", 1.0),
        (57.0, 0.057, "m", 1.0),
        (25.4, 1.0, "inch", 1.0),
        (57.08, 57.0 / 25.4, "inch", 1.0),
        (8.0, 4.0, "mm", 2.0),
    ],
)
def test_one_measured_dimension_settles_the_unit(
    measured_mm: float, file_length: float, unit: str, scale: float
) -> None:
    part = edits.set_scale_by_measure("motor", measured_mm, file_length).apply(ONE, MESHES).parts[0]
    assert (part.unit, part.unit_origin) == (unit, "measured")
    assert part.scale == pytest.approx(scale, rel=1e-12)
    assert part.scale_mm * file_length == pytest.approx(measured_mm, abs=edits.READING_MM)


# --- placing ----------------------------------------------------------------------------------------


def test_a_turn_keeps_the_middle_and_swaps_the_extents() -> None:
    turned = edits.turn("motor", (0, 1, 0), 90).apply(ONE, MESHES)
    box = placing.box_mm(turned.parts, MESHES)
    np.testing.assert_allclose(box.mean(axis=0), [20, 10, 5], atol=1e-9)
    np.testing.assert_allclose(box[1] - box[0], [10, 20, 40], atol=1e-9)
    assert turned.parting.height_mm == pytest.approx(16)  # 40 % of 40
    # A right-handed quarter turn about +Y takes +X to -Z.
    np.testing.assert_allclose(matrix_of(turned, "motor")[:3, :3] @ [1, 0, 0], [0, 0, -1], atol=1e-12)


def test_four_quarter_turns_are_no_turn() -> None:
    spec = ONE
    for _ in range(4):
        spec = edits.turn("motor", (0, 0, 1), 90).apply(spec, MESHES)
    assert spec.parts == ONE.parts  # equal, so that the built halves are found again


@pytest.mark.parametrize("pull", PULLS)
@pytest.mark.parametrize("normal", [(1, 0, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1), (1, 2, -3)])
def test_laying_flat_turns_the_face_down_and_keeps_the_level(
    pull: PullDirection, normal: tuple[float, float, float]
) -> None:
    before = edits.set_pull(pull).apply(TWO, MESHES)
    after = edits.lay_flat("board", normal).apply(before, MESHES)
    up = placing.pull_axis(pull)
    turn = matrix_of(after, "board")[:3, :3]
    np.testing.assert_allclose(turn @ (np.array(normal) / np.linalg.norm(normal)), -up, atol=1e-9)
    old, new = (placing.box_mm([s.parts[1]], MESHES, pull) for s in (before, after))
    assert new[0, 2] == pytest.approx(old[0, 2], abs=1e-9)
    np.testing.assert_allclose(new.mean(axis=0)[:2], old.mean(axis=0)[:2], atol=1e-9)
    assert after.parts[0] == before.parts[0]


def test_centring_moves_across_the_pull_only() -> None:
    centred = edits.centre("board").apply(TWO, MESHES)
    motor, board = (placing.box_mm([p], MESHES) for p in centred.parts)
    np.testing.assert_allclose(board.mean(axis=0)[:2], motor.mean(axis=0)[:2], atol=1e-9)
    np.testing.assert_allclose(board[:, 2], [3, 5], atol=1e-9)
    alone = edits.centre("motor").apply(ONE, MESHES)
    np.testing.assert_allclose(placing.box_mm(alone.parts, MESHES), [[-20, -10, 0], [20, 10, 10]], atol=1e-9)


def test_box_and_height_agree_with_the_build_frame() -> None:
    spec = edits.turn("board", (1, 1, 0), 33).apply(TWO, MESHES)
    for pull in PULLS:
        built = [m.moved(build_frame(placed(spec), pull)).bounds for m in placed(spec)]
        top = max(b[1, 2] for b in built)
        assert placing.height_mm(spec.parts, MESHES, pull) == pytest.approx(top, abs=1e-9)


def test_a_new_pull_keeps_the_planes_share_or_takes_the_given_height() -> None:
    assert edits.set_pull("-x").apply(ONE, MESHES).parting == PartingSpec(pull="-x", height_mm=16)
    assert edits.set_pull("-x", 3).apply(ONE, MESHES).parting == PartingSpec(pull="-x", height_mm=3)


# --- adding and naming ------------------------------------------------------------------------------


def test_parts_come_and_go() -> None:
    twice = edits.add_part(TWO.parts[1], BOARD).apply(TWO, MESHES)
    assert [p.name for p in twice.parts] == ["motor", "board", "board 2"]
    assert edits.remove_part("board 2").apply(twice, MESHES) == TWO
    with pytest.raises(SpecError, match="Two parts have the same name"):
        edits.rename("board 2", "motor").apply(twice, MESHES)
    assert edits.rename("board 2", " fan ").apply(twice, MESHES).parts[2].name == "fan"


def test_a_part_brings_its_mesh() -> None:
    edit = edits.add_part(PartSpec(name="board", mesh_key="as read"), BOARD)
    after = edit.apply(ONE, {MOTOR.key: MOTOR})
    assert after.parts[1].mesh_key == BOARD.key
    assert dict(edit.brings) == {BOARD.key: BOARD}


def test_long_names_stay_within_their_limit() -> None:
    assert edits.free_name("x" * 80, {"x" * 80}) == "x" * 78 + " 2"


# --- whatever is done -------------------------------------------------------------------------------

AXES = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: float(np.linalg.norm(v)) > 0.1)
MOVES = st.one_of(
    st.builds(edits.turn, st.just("motor"), AXES, st.floats(-720, 720)),
    st.builds(edits.lay_flat, st.just("board"), AXES),
    st.builds(edits.centre, st.sampled_from(["motor", "board"])),
    st.builds(edits.set_unit, st.just("motor"), st.sampled_from(["mm", "cm", "inch"])),
    st.builds(edits.set_scale_by_measure, st.just("board"), st.floats(20, 60), st.just(30.0)),
    st.builds(edits.set_pull, st.sampled_from(PULLS)),
)


@given(st.lists(MOVES, max_size=8))
def test_the_plane_keeps_its_share_of_the_height(moves: list[edits.Edit]) -> None:
    spec = TWO
    for move in moves:
        spec = move.apply(spec, MESHES)
    share, wanted = (
        s.parting.height_mm / placing.height_mm(s.parts, MESHES, s.parting.pull) for s in (spec, TWO)
    )
    assert share == pytest.approx(wanted, rel=1e-6)
    for part in spec.parts:
        turn = np.reshape(part.placement, (4, 4))[:3, :3]
        np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-9)


def test_placing_sets_the_matrix_as_given() -> None:
    matrix = rotation_about(np.array([0, 0, 1.0]), 90)
    matrix[:3, 3] = [5, 6, 7]
    there = edits.place("motor", matrix).apply(ONE, MESHES)
    np.testing.assert_allclose(matrix_of(there, "motor"), matrix, atol=1e-12)
    assert edits.place("motor", np.reshape(IDENTITY, (4, 4))).apply(there, MESHES) == ONE
