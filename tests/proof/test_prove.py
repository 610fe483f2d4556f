"""The proof of housings whose figures are known by construction, good and spoilt.

The halves are made with trimesh, so nothing of the engine is used.  The judging rules (0.01 mm slack seated,
0.02 mm on the way) are those of the acceptance check beside the project.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from housingdesk.finding import Finding
from housingdesk.geometry.types import SIDES, Mesh, Side
from housingdesk.proof.checks import prove
from housingdesk.proof.subject import Subject, WayOut
from tests.proof.halves import block, both, boxed, minus, subject

KERNEL = 1e-5  # the kernel behind the test halves rounds coordinates to 32 bits


def by_code(housing: Subject) -> dict[str, Finding]:
    return {f.code: f for f in prove(housing).findings}


def fails(housing: Subject) -> set[str]:
    return {f.code for f in prove(housing).findings if f.severity == "fail"}


def test_a_block_in_a_block_passes_with_its_figures() -> None:
    proof = prove(boxed(1.0, 2.0))
    facts, findings = proof.halves, proof.findings
    assert {f.severity for f in findings} == {"pass"}
    assert len({f.code for f in findings}) == len(findings)
    for side, height in (("lower", 10.0), ("upper", 11.0)):
        half = facts[side]
        assert half.min_gap_mm == pytest.approx(1.0, abs=KERNEL)
        assert half.way_gap_mm == pytest.approx(1.0, abs=KERNEL)
        assert half.wall_mm == pytest.approx(2.0, abs=KERNEL)
        assert half.floor_mm == pytest.approx(2.0, abs=KERNEL)
        assert half.size_mm == pytest.approx((26, 36, height), abs=KERNEL)
        assert half.volume_mm3 == pytest.approx(26 * 36 * height - 22 * 32 * (height - 2), rel=1e-6)
        assert half.overlap_mm3 == 0.0


@pytest.mark.parametrize(("short", "verdict"), [(0.005, "pass"), (0.02, "fail"), (0.3, "fail")])
def test_too_small_a_pocket_is_told_with_its_figure(short: float, verdict: str) -> None:
    found = by_code(boxed(1.0 - short, 2.0 + short, asked=1.0))
    for side in SIDES:
        assert found[f"gap-{side}"].severity == verdict
        assert f"{1 - short:.3f}"[:4] in found[f"gap-{side}"].message


def test_the_tight_place_is_the_one_pointed_at() -> None:
    good = boxed(1.0)
    lower = trimesh.Trimesh(good.halves["lower"].vertices, good.halves["lower"].faces)
    bump = block([9.0, 3.0, 1.0], [9.0 + 4, 4.0, 2.0])  # from the right wall: part side at x = 10
    bump.apply_translation((1.6, 0, 0))
    housing = replace(good, halves={**good.halves, "lower": Mesh(*_arrays(both(lower, bump)))})
    found = by_code(housing)["gap-lower"]
    assert found.severity == "fail"
    assert "0.60 mm room" in found.message and "1.00 mm asked" in found.message
    assert found.where_mm is not None
    assert np.all(np.array(found.where_mm) >= [10 - 1e-6, 3 - 1e-6, 1 - 1e-6])
    assert np.all(np.array(found.where_mm) <= [10 + 1e-6, 4 + 1e-6, 2 + 1e-6])
    assert found.remedy


def _arrays(solid: trimesh.Trimesh) -> tuple[np.ndarray, np.ndarray]:
    return np.asarray(solid.vertices, float), np.asarray(solid.faces, np.int32)


def test_a_cell_in_a_block_by_formula() -> None:
    """A cell of 18 x 65 mm lying down, pocket of 19 x 66 mm: 0.5 mm a side (issue's figures, closed form)."""
    lie = trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0))
    cell = trimesh.creation.cylinder(9, 65, sections=96, transform=lie)
    pocket = trimesh.creation.cylinder(9.5, 66, sections=96, transform=lie)
    housing = subject(
        cell,
        pocket,
        [[-35, -11.5, -11.5], [35, 11.5, 11.5]],
        parting=0.0,
        clearance=0.5,
        wall=2.0,
    )
    proof = prove(housing)
    facts, findings = proof.halves, proof.findings
    assert not [f for f in findings if f.severity == "fail"]
    # Facets of both polygons face each other: their gap is the difference of the inner radii.
    expected = 0.5 * np.cos(np.pi / 96)
    for side in SIDES:
        assert facts[side].min_gap_mm == pytest.approx(expected, abs=1e-4)
        half = 0.5 * 96 * 9.5**2 * np.sin(2 * np.pi / 96) / 2
        assert facts[side].volume_mm3 == pytest.approx(70 * 23 * 11.5 - half * 66, rel=1e-5)


def test_part_in_the_material_fails() -> None:
    good = boxed(1.0)
    sunk = replace(good, parts=(good.parts[0].moved(_shift(0, 0, -2)),), parting_z_mm=7.0)
    facts = prove(sunk).halves
    found = by_code(sunk)
    assert found["interference-lower"].severity == "fail"
    assert found["gap-lower"].severity == "fail"
    assert found["goes-in-lower"].severity == "fail"
    assert facts["lower"].min_gap_mm == 0.0
    # One millimetre of a 20 x 30 mm block is in the floor; estimated from 40 000 points.
    assert facts["lower"].overlap_mm3 == pytest.approx(600, rel=0.05)
    assert found["interference-upper"].severity == "pass"


def test_a_small_second_body_in_the_wall_is_not_overlooked() -> None:
    good = boxed(1.0, 4.0)
    pin = trimesh.creation.icosphere(1, 0.3)
    pin.apply_translation((13.5, 0, 3))
    stuck = replace(good, parts=(*good.parts, Mesh(*_arrays(pin))))
    found = by_code(stuck)["interference-lower"]
    assert found.severity == "fail"
    assert found.where_mm == pytest.approx((13.5, 0, 3), abs=0.4)


def _shift(x: float, y: float, z: float) -> np.ndarray:
    out = np.eye(4)
    out[:3, 3] = x, y, z
    return out


def _with(housing: Subject, side: Side, half: Mesh) -> Subject:
    return replace(housing, halves={**housing.halves, side: half})


def test_an_open_half_fails() -> None:
    good = boxed(1.0)
    lower = good.halves["lower"]
    assert "closed-lower" in fails(_with(good, "lower", Mesh(lower.vertices, lower.faces[1:])))


def test_a_flipped_triangle_and_a_half_inside_out_fail() -> None:
    good = boxed(1.0)
    lower = good.halves["lower"]
    faces = lower.faces.copy()
    faces[0] = faces[0, ::-1]
    assert "closed-lower" in fails(_with(good, "lower", Mesh(lower.vertices, faces)))
    assert "closed-lower" in fails(_with(good, "lower", Mesh(lower.vertices, lower.faces[:, ::-1])))


@pytest.mark.parametrize(("inside_out", "word"), [(False, "crumb"), (True, "hollow")])
def test_a_crumb_and_a_shut_in_hollow_fail(inside_out: bool, word: str) -> None:
    good = boxed(1.0, 4.0)
    lower = good.halves["lower"]
    grain = trimesh.creation.icosphere(1, 0.5)
    grain.apply_translation((13, 0, 3) if inside_out else (0, 0, 40))
    faces = grain.faces[:, ::-1] if inside_out else grain.faces
    spoilt = Mesh(
        np.vstack([lower.vertices, grain.vertices]), np.vstack([lower.faces, faces + len(lower.vertices)])
    )
    found = by_code(_with(good, "lower", spoilt))["one-piece-lower"]
    assert found.severity == "fail"
    assert f"1 {'loose' if word == 'crumb' else 'shut-in'} {word}." in found.message


def test_a_half_in_two_pieces_fails() -> None:
    good = boxed(1.0)
    lower = trimesh.Trimesh(good.halves["lower"].vertices, good.halves["lower"].faces)
    sawn = minus(lower, block([-1, -50, -50], [1, 50, 50]))
    found = by_code(_with(good, "lower", Mesh(*_arrays(sawn))))["one-piece-lower"]
    assert found.severity == "fail"
    assert "2 pieces" in found.message


def test_overlapping_halves_fail() -> None:
    assert "halves-overlap" in fails(replace(boxed(1.0), overlap_mm3=12.0))


@pytest.mark.parametrize("z", [-0.5, 15.0, 40.0])
def test_a_parting_plane_beside_the_part_fails(z: float) -> None:
    assert {"parting-through-part", "halves-meet"} <= fails(replace(boxed(1.0), parting_z_mm=z))


def test_thin_walls_are_told_by_side_and_forgiven_where_the_user_fixed_them() -> None:
    part = block([-10, -15, 0], [10, 15, 15])
    cavity = block([-11, -16, -1], [11, 16, 16])
    outer = [[-13, -18, -1.6], [11.5, 18, 18]]  # right wall 0.5 mm, floor 0.6 mm
    housing = subject(part, cavity, outer, parting=7.0, clearance=1.0, wall=2.0)
    facts = prove(housing).halves
    assert facts["lower"].wall_mm == pytest.approx(0.5, abs=KERNEL)
    assert facts["lower"].floor_mm == pytest.approx(0.6, abs=KERNEL)
    assert facts["upper"].floor_mm == pytest.approx(2.0, abs=KERNEL)
    found = by_code(housing)
    assert found["wall-lower"].severity == found["floor-lower"].severity == "fail"
    assert "right wall" in found["wall-lower"].message and "0.50 mm" in found["wall-lower"].message
    assert found["roof-upper"].severity == "pass"
    assert found["printable-lower"].severity == "caution"
    wished = by_code(replace(housing, fixed_sides=("right", "floor")))
    assert wished["wall-lower"].severity == wished["floor-lower"].severity == "caution"


def test_a_shaft_that_leaves_is_an_opening_and_no_thin_wall() -> None:
    body = block([-10, -15, 0], [10, 15, 15])
    lie = trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0))
    lie[:3, 3] = 15, 0, 7
    part = both(body, trimesh.creation.cylinder(3, 30, sections=48, transform=lie))
    cavity = both(
        block([-11, -16, -1], [11, 16, 16]), trimesh.creation.cylinder(4, 40, sections=48, transform=lie)
    )
    housing = subject(
        part, cavity, [[-13, -18, -3], [13, 18, 18]], parting=7.0, clearance=1.0, wall=2.0, fixed=("right",)
    )
    proof = prove(housing)
    facts, findings = proof.halves, proof.findings
    assert not [f for f in findings if f.severity == "fail"]
    openings = [f for f in findings if f.code.startswith("opening")]
    assert [(f.code, f.severity) for f in openings] == [("opening-right", "caution")]
    assert "8.0 × 8.0 mm" in openings[0].message
    assert openings[0].where_mm == pytest.approx((13, 0, 7), abs=0.01)
    assert facts["lower"].wall_mm == pytest.approx(2.0, abs=KERNEL)


def test_a_hole_where_nothing_comes_out_fails() -> None:
    part = block([-10, -15, 0], [10, 15, 15])
    cavity = both(block([-11, -16, -1], [11, 16, 16]), block([5, -2, 2], [20, 2, 5]))
    housing = subject(part, cavity, [[-13, -18, -3], [13, 18, 18]], parting=7.0, clearance=1.0, wall=2.0)
    found = by_code(housing)["opening-right"]
    assert found.severity == "fail"
    assert "4.0 × 3.0 mm" in found.message


def test_much_relief_is_a_caution() -> None:
    found = by_code(replace(boxed(1.0), relief_mm3={"lower": 4000.0, "upper": 0.2}))
    assert found["goes-in-lower"].severity == "caution"
    assert "4.0 cm³" in found["goes-in-lower"].message
    assert found["goes-in-upper"].severity == "pass"
    assert "nothing had to be cut away" in found["goes-in-upper"].message


def test_a_bulge_over_the_pocket_fails_on_the_way_only() -> None:
    """A lip above the part's foot: seated there is room, on the way in there is none."""
    part = both(block([-10, -10, 0], [10, 10, 4]), block([-4, -4, 3], [4, 4, 15]))
    cavity = both(block([-11, -11, -1], [11, 11, 5]), block([-5, -5, 4], [5, 5, 16]))
    housing = subject(part, cavity, [[-13, -13, -3], [13, 13, 18]], parting=9.0, clearance=1.0, wall=2.0)
    assert fails(housing) == {"goes-in-lower"}


def test_notes_are_passed_on_as_cautions() -> None:
    found = by_code(boxed(1.0, notes=("The part has 4 open edges.",)))["part-file"]
    assert (found.severity, found.message) == ("caution", "The part has 4 open edges.")


def test_findings_come_worst_first() -> None:
    ranks = [
        ("fail", "caution", "pass").index(f.severity) for f in prove(boxed(0.7, 0.5, asked=1.0)).findings
    ]
    assert ranks == sorted(ranks)
    assert ranks[0] == 0


def test_an_open_part_of_loose_triangles_is_proved_like_a_clean_one() -> None:
    good = boxed(1.0)
    part = good.parts[0]
    loose = part.vertices[part.faces[:-1]].reshape(-1, 3)  # one triangle missing, no corner shared
    faces = np.arange(len(loose)).reshape(-1, 3).astype(np.int32)
    faces[::2] = faces[::2, ::-1]
    facts = prove(replace(good, parts=(Mesh(loose, faces),))).halves
    assert facts["lower"].min_gap_mm == pytest.approx(1.0, abs=KERNEL)
    assert facts["lower"].way_gap_mm == pytest.approx(1.0, abs=KERNEL)


def test_zero_clearance_is_an_exact_cut() -> None:
    found = by_code(boxed(0.0, 2.0))
    assert {f.severity for f in found.values()} == {"pass"}


def slotted(low_z: float, parting: float, *thin: trimesh.Trimesh) -> dict[str, Finding]:
    """Prove a block with a level shaft at z = 10, swept in from a plane beside it, by code."""
    part = both(block([-10, -10, 0], [10, 10, 15]), block([9, -2, 8], [20, 2, 12]))
    box = np.array([[10.0, -3, 7], [13, 3, 13]])
    way = WayOut("shaft", np.array([1.0, 0, 0]), np.array([13.0, 0, 10]), box)
    cavity = both(block([-11, -11, -1], [11, 11, 16]), block([9, -3, low_z], [30, 3, 13]), *thin)
    outer = [[-13, -13, -3], [13, 13, 18]]
    made = subject(part, cavity, outer, parting=parting, clearance=1.0, wall=2.0)
    return {f.code: f for f in prove(replace(made, ways_out=(way,), meant=(box,))).findings}


def test_a_shaft_beside_the_plane_cuts_a_slot_and_the_remedy_is_the_plane() -> None:
    found = slotted(4.0, 4.0)["opening-right"]
    assert found.severity == "caution"
    assert "6.0 × 9.0 mm, longer than its passage" in found.message
    assert "lay the parting plane on its axis, at 10.00 mm" in found.remedy


@pytest.mark.parametrize(
    ("parting", "y_mm", "remedy"),
    [
        (9.0, 3.5, "lay the parting plane on its axis, at 10.00 mm"),
        (10.0, 3.5, "Raise the wall"),
        (9.0, 9.0, "Raise the wall"),
    ],
)
def test_a_wall_thinned_beside_such_a_shaft_is_not_to_be_raised(
    parting: float, y_mm: float, remedy: str
) -> None:
    thin = block([9, y_mm - 1, 7.5], [12.5, y_mm + 1, 9.5])
    found = slotted(7.0, parting, thin)["wall-lower"]
    assert (found.severity, found.message[:18]) == ("fail", "The right wall of ")
    assert remedy in found.remedy


@pytest.mark.parametrize(
    ("lean_deg", "remedy"),
    [
        (25.0, "The passage of the shaft runs out there: turn the part until the shaft points square"),
        (0.0, "Raise the wall"),
    ],
)
def test_a_wall_thinned_by_a_leaning_passage_is_not_to_be_raised(lean_deg: float, remedy: str) -> None:
    part = block([-10, -10, 0], [10, 10, 15])
    lean = np.radians(lean_deg)
    box = np.array([[10.0, -12.5, 4], [13, -6, 11]])
    way = WayOut("shaft", np.array([np.cos(lean), -np.sin(lean), 0]), np.array([13.0, -9, 7.5]), box)
    cavity = both(block([-11, -11, -1], [11, 11, 16]), block([9, -12.5, 4], [30, -6, 11]))
    made = subject(part, cavity, [[-13, -13, -3], [13, 13, 18]], parting=7.5, clearance=1.0, wall=2.0)
    found = {f.code: f for f in prove(replace(made, ways_out=(way,), meant=(box,))).findings}
    assert found["wall-lower"].message.startswith("The front wall of the lower half is 0.5")
    assert remedy in found["wall-lower"].remedy
    assert (remedy in found["printable-lower"].remedy) is (lean_deg > 0)
