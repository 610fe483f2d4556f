"""What lies in the output folder, read back by outside libraries."""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import lib3mf
import numpy as np
import pytest
import trimesh

from housingdesk.build.results import BuildResult, HalfFacts
from housingdesk.deliver.names import already_there, names_written
from housingdesk.deliver.output import GAP_MM, write_outputs
from housingdesk.deliver.pose import Pose, print_pose
from housingdesk.errors import FileError
from housingdesk.finding import Finding
from housingdesk.geometry.frames import build_frame, rotation_about
from housingdesk.geometry.types import SIDES, Mesh, Side
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from tests.files.makers import box

PART = box((2.0, 1.5, 1.0))  # inches
PART_MM = np.array([2.0, 1.5, 1.0]) * 25.4
FAR = np.array([3000.0, -2000.0, 1000.0])


def slab(size: tuple[float, float, float], low_z: float) -> Mesh:
    made = trimesh.creation.box(size)
    made.apply_translation([7.0, 0.0, low_z + size[2] / 2])  # not centred, so that centring is seen
    return Mesh(made.vertices, made.faces)


def step(mesh: Mesh) -> Mesh:
    """A half that is not the same upside down: a smaller block on top of a slab, as one list of faces."""
    cap = mesh.moved(np.array([[0.5, 0, 0, 3.5], [0, 0.5, 0, 0], [0, 0, 1, mesh.size_mm[2]], [0, 0, 0, 1]]))
    return Mesh(
        np.vstack([mesh.vertices, cap.vertices]), np.vstack([mesh.faces, cap.faces + len(mesh.vertices)])
    )


def facts(gap: float, half: Mesh) -> HalfFacts:
    size = tuple(float(x) for x in half.size_mm)
    return HalfFacts(
        half.volume_mm3, half.triangles, size, gap, (0.0, 0.0, 0.0), gap, 0.0, 12.5, 2.4, float("inf")
    )


def result(*, final: bool = True) -> BuildResult:
    placement = rotation_about(np.array([0.0, 1.0, 0.0]), 90.0)
    placement[:3, 3] = FAR
    part = PartSpec(name="Motor", mesh_key=PART.key, unit="inch", placement=tuple(placement.ravel().tolist()))
    spec = Spec(
        name="Vent",
        parts=(part,),
        parting=PartingSpec(pull="+x", height_mm=9.0),
        fit=FitSpec(clearance_mm=0.6),
        shell=ShellSpec(wall_mm=2.8),
    )
    in_assembly = PART.moved(np.diag([25.4, 25.4, 25.4, 1.0])).moved(placement)
    frame = build_frame([in_assembly], "+x")
    halves: dict[Side, Mesh] = {
        "lower": step(slab((60.0, 50.0, 12.0), -3.0)),
        "upper": slab((60.0, 50.0, 20.0), 9.0),
    }
    found = (
        Finding("gap", "pass", "Least gap 0.6 mm."),
        Finding("wall", "caution", "Thin.", "Thicken.", (1.0, 2.0, 3.0)),
    )
    return BuildResult(
        generation=1,
        quality="final" if final else "draft",
        spec=spec,
        assembly_to_build=tuple(frame.ravel().tolist()),
        parting_z_mm=9.0,
        outer_mm=np.zeros((2, 3)),
        parts=(in_assembly.moved(frame),),
        halves=halves,
        facts={"lower": facts(0.61, halves["lower"]), "upper": facts(0.6, halves["upper"])}
        if final
        else None,
        findings=found,
    )


@pytest.mark.parametrize("pose", ["print", "assembled"])
def test_the_folder_holds_what_was_promised(pose: Pose, tmp_path: Path) -> None:
    out = tmp_path / "out"
    files = write_outputs(out, result(), pose, {PART.key: PART}, {"housingdesk": "1.2.3"})
    names = ["lower.stl", "upper.stl", "halves.3mf", "proof.json", "part_1.ply"]
    assert [p.name for p in files] == names
    assert sorted(p.name for p in out.iterdir()) == sorted(names)
    proof = json.loads((out / "proof.json").read_text(encoding="utf-8"))
    built = result()
    assert built.facts is not None
    assert proof["parting_z_mm"] == 9.0
    assert (proof["clearance_mm"], proof["wall_mm"], proof["min_gap_mm"]) == (0.6, 2.8, 0.6)
    assert proof["relief_mm3"] == {"lower": 12.5, "upper": 12.5}
    assert proof["contacts"] == []
    assert proof["versions"] == {"housingdesk": "1.2.3"}
    caution = proof["findings"][1]
    assert (caution["code"], caution["severity"], caution["where_mm"]) == ("wall", "caution", [1.0, 2.0, 3.0])
    assert (caution["message"], caution["remedy"]) == ("Thin.", "Thicken.")
    for side in SIDES:
        assert proof["halves"][side] == {
            "volume_mm3": built.halves[side].volume_mm3,
            "triangles": built.halves[side].triangles,
        }
        solid = trimesh.load(out / f"{side}.stl", force="mesh", process=False)
        assert solid.volume == pytest.approx(built.halves[side].volume_mm3, rel=1e-6)
        count = struct.unpack("<I", (out / f"{side}.stl").read_bytes()[80:84])[0]
        assert count == built.halves[side].triangles


def test_the_part_lies_in_the_build_frame_as_the_acceptance_reads_it(tmp_path: Path) -> None:
    write_outputs(tmp_path, result(), "assembled", {PART.key: PART})
    entry = json.loads((tmp_path / "proof.json").read_text(encoding="utf-8"))["parts"][0]
    # the reading order of the acceptance script: scale first, then the map
    part = trimesh.load(tmp_path / entry["mesh"], force="mesh", process=False)
    np.testing.assert_allclose(part.extents, (2.0, 1.5, 1.0))  # in file units
    part.apply_scale(entry["scale_mm"])
    part.apply_transform(np.array(entry["to_build"]).reshape(4, 4))
    np.testing.assert_allclose(part.vertices, result().parts[0].vertices, atol=1e-9)
    # turned by 90 degrees about Y, pulled along +X: the file's z runs along the build's z
    assert np.sort(part.extents) == pytest.approx(np.sort(PART_MM))
    assert part.bounds[0, 2] == pytest.approx(0.0, abs=1e-9)
    assert part.bounds[:, :2].mean(axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)


def test_assembled_halves_stay_where_they_are(tmp_path: Path) -> None:
    write_outputs(tmp_path, result(), "assembled", {PART.key: PART})
    for side in SIDES:
        solid = trimesh.load(tmp_path / f"{side}.stl", force="mesh", process=False)
        np.testing.assert_allclose(solid.bounds, result().halves[side].bounds, atol=1e-5)


def test_print_pose_lays_the_flat_outside_down(tmp_path: Path) -> None:
    write_outputs(tmp_path, result(), "print", {PART.key: PART})
    for side in SIDES:
        solid = trimesh.load(tmp_path / f"{side}.stl", force="mesh", process=False)
        low, high = solid.bounds
        assert low[2] == pytest.approx(0.0, abs=1e-6)
        assert (low + high)[:2] == pytest.approx([0.0, 0.0], abs=1e-5)
        # all of the 60 x 50 outside face lies on the bed
        down = (solid.face_normals[:, 2] < -0.999) & (solid.triangles[:, :, 2] < 1e-6).all(axis=1)
        assert solid.area_faces[down].sum() == pytest.approx(60.0 * 50.0, rel=1e-6)


def test_print_pose_turns_and_never_mirrors() -> None:
    half = step(slab((60.0, 50.0, 12.0), 3.0))
    for side in SIDES:
        posed = print_pose(half, side, 9.0)
        assert posed.volume_mm3 == pytest.approx(half.volume_mm3)  # a mirror would make it negative
        np.testing.assert_array_equal(posed.faces, half.faces)
    # the narrow block is on top as built; turned over, its end is what lies on the bed
    top = print_pose(half, "upper", 9.0)
    lowest = top.vertices[np.isclose(top.vertices[:, 2], 0.0)]
    assert np.ptp(lowest, axis=0)[:2] == pytest.approx([30.0, 25.0])


def test_the_3mf_holds_both_named_and_apart(tmp_path: Path) -> None:
    for pose, apart in (("print", GAP_MM), ("assembled", None)):
        write_outputs(tmp_path / pose, result(), pose, {PART.key: PART})  # type: ignore[arg-type]  # loop over literals
        model = lib3mf.get_wrapper().CreateModel()
        model.QueryReader("3mf").ReadFromFile(str(tmp_path / pose / "halves.3mf"))
        assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
        items, boxes = model.GetBuildItems(), {}
        while items.MoveNext():
            body = items.GetCurrent().GetObjectResource()
            points = np.array([list(p.Coordinates) for p in body.GetVertices()])
            boxes[body.GetName()] = (points.min(axis=0), points.max(axis=0))
        assert set(boxes) == {"lower half", "upper half"}
        if apart is None:
            np.testing.assert_allclose(boxes["upper half"], result().halves["upper"].bounds, atol=1e-5)
        else:
            assert boxes["upper half"][0][0] - boxes["lower half"][1][0] == pytest.approx(apart, abs=1e-5)
            assert boxes["lower half"][0][2] == boxes["upper half"][0][2] == 0.0


def test_other_files_stay_and_a_failure_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "photo.jpg").write_text("mine")
    write_outputs(tmp_path, result(), "print", {PART.key: PART})
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert before["photo.jpg"] == b"mine"

    def full(path: Path, mesh: Mesh) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("housingdesk.deliver.output.write_ply", full)
    with pytest.raises(FileError, match="disk is full"):
        write_outputs(tmp_path, result(), "assembled", {PART.key: PART})
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_a_draft_is_never_written(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="final"):
        write_outputs(tmp_path / "out", result(final=False), "print", {PART.key: PART})
    assert not (tmp_path / "out").exists()


def test_versions_are_told_by_themselves(tmp_path: Path) -> None:
    write_outputs(tmp_path, result(), "print", {PART.key: PART})
    versions = json.loads((tmp_path / "proof.json").read_text(encoding="utf-8"))["versions"]
    assert {"housingdesk", "python", "manifold3d", "numpy"} <= versions.keys()
    assert all(versions.values())


@pytest.mark.shared
def test_the_acceptance_script_reads_the_folder_and_agrees(tmp_path: Path, shared_judge: Path) -> None:
    # A housing made by hand: box in a box, its cavity the part grown by the clearance, cut at z = 9.
    gap, wall, parting = 0.6, 2.8, 9.0
    part = box((2.0, 1.5, 1.0))
    size = PART_MM

    def block(grow: float, low: float, high: float) -> trimesh.Trimesh:
        made = trimesh.creation.box([size[0] + 2 * grow, size[1] + 2 * grow, high - low])
        made.apply_translation([0.0, 0.0, (low + high) / 2])
        return made

    reach = gap + wall
    cavity = block(gap, -gap, size[2] + gap)
    halves: dict[Side, Mesh] = {}
    for side, low, high in (("lower", -reach, parting), ("upper", parting, size[2] + reach)):
        cut = block(reach, low, high).difference(cavity)
        halves[side] = Mesh(cut.vertices, cut.faces)  # type: ignore[index]  # loop over literals
    spec = Spec(
        parts=(PartSpec(name="Block", mesh_key=part.key, unit="inch"),),
        parting=PartingSpec(height_mm=parting),
        fit=FitSpec(clearance_mm=gap),
        shell=ShellSpec(wall_mm=wall),
    )
    frame = build_frame([part.moved(np.diag([25.4, 25.4, 25.4, 1.0]))], "+z")
    built = replace(
        result(),
        spec=spec,
        assembly_to_build=tuple(frame.ravel().tolist()),
        parting_z_mm=parting,
        halves=halves,
        facts={side: facts(gap, halves[side]) for side in SIDES},
    )
    write_outputs(tmp_path, built, "assembled", {part.key: part})
    done = subprocess.run(
        [sys.executable, str(shared_judge), str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "FAIL" not in done.stdout


def test_every_name_written_is_announced(tmp_path: Path) -> None:
    files = write_outputs(tmp_path, result(), "print", {PART.key: PART})
    written = {file.name for file in files}
    assert written == set(already_there(tmp_path, names_written(1)))
    assert written == {path.name for path in tmp_path.iterdir()}
    with pytest.raises(FileError, match="there already"):
        write_outputs(tmp_path, result(), "print", {PART.key: PART}, replace=False)
