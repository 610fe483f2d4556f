"""The sample projects: what their scripts make is what is kept, they open, and they are ours."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import igl
import numpy as np
import pytest
import trimesh

from housingdesk.files.meshes import read_part
from housingdesk.files.places import samples_dir
from housingdesk.files.project import load_project
from housingdesk.geometry.frames import build_frame
from housingdesk.geometry.types import Mesh
from tests.conftest import ROOT

SAMPLES = ROOT / "sample_projects"
SCRIPTS = {
    "vent_drive": "sample_projects.vent_drive.make_part",
    "rain_logger": "sample_projects.rain_logger.make_parts",
}
STLS = {"vent_drive": ["vent_drive.stl"], "rain_logger": ["logger_board.stl", "cell.stl"]}


def files(folder: Path) -> dict[str, bytes]:
    """Everything in a sample but its script."""
    found = (p for p in folder.rglob("*") if p.is_file() and p.suffix not in {".py", ".pyc"})
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in found}


def in_build_frame(name: str) -> tuple[Mesh, ...]:
    """The parts of a sample as they lie in the housing."""
    spec, meshes = load_project(SAMPLES / name)
    placed = [
        meshes[p.mesh_key].moved(np.array(p.placement).reshape(4, 4) @ np.diag([p.scale_mm] * 3 + [1]))
        for p in spec.parts
    ]
    frame = build_frame(placed, spec.parting.pull)
    return tuple(m.moved(frame) for m in placed)


@pytest.mark.parametrize("name", SCRIPTS)
def test_running_the_script_again_gives_the_same_bytes(name, tmp_path):
    environment = {**os.environ, "PYTHONHASHSEED": "random"}
    subprocess.run([sys.executable, "-m", SCRIPTS[name], tmp_path], cwd=ROOT, env=environment, check=True)
    assert files(tmp_path) == files(SAMPLES / name)


@pytest.mark.parametrize("name", SCRIPTS)
def test_the_stl_beside_the_project_is_the_same_part(name):
    _, meshes = load_project(SAMPLES / name)
    kept = sorted((m.triangles, *np.float32(m.bounds).ravel()) for m in meshes.values())
    read = [read_part(SAMPLES / name / stl).mesh for stl in STLS[name]]
    assert sorted((m.triangles, *np.float32(m.bounds).ravel()) for m in read) == kept


@pytest.mark.parametrize("name", SCRIPTS)
def test_each_part_is_one_closed_body(name):
    for mesh in in_build_frame(name):
        body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        assert body.is_volume  # trimesh: closed, consistently wound, facing outward
        assert body.body_count == 1


def test_the_vent_drive_is_parted_through_the_axis_of_its_shaft():
    spec, _ = load_project(SAMPLES / "vent_drive")
    (motor,) = in_build_frame("vent_drive")
    # The shaft is all that reaches so far forward; its flat takes from the top only, so look at its sides.
    tip = motor.vertices[motor.vertices[:, 1] < motor.bounds[0, 1] + 1e-3]
    widest = tip[np.isclose(tip[:, 0], tip[:, 0].min(), atol=1e-4)]
    assert spec.parting.height_mm == pytest.approx(widest[:, 2].mean(), abs=1e-3)
    (shaft,) = spec.fit.zones
    assert shaft.purpose == "turning"  # so it gets a way out through the wall


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_sample_is_a_complete_housing(name):
    spec, _ = load_project(SAMPLES / name)
    kinds = {f.kind for f in spec.features}
    assert {"screws", "lip", "wireway", "mark"} <= kinds
    assert kinds & {"feet", "ears"}
    assert spec.shell.form.kind in {"outline", "rounded"}
    assert spec.shell.form.rim == "chamfered"


def section_area(mesh: Mesh, normal: list[int], at: list[float]) -> float:
    """Area of the one outline that a plane across an axis cuts (shoelace formula), mm2."""
    outline = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).section(normal, at)
    (loop,) = outline.discrete
    assert np.allclose(loop[0], loop[-1])
    return abs(float(np.cross(loop[:-1], loop[1:]).sum(axis=0) @ normal)) / 2


def test_the_vent_drive_has_a_flat_on_a_round_shaft_at_a_right_angle_to_its_can():
    (motor,) = in_build_frame("vent_drive")
    near_tip, behind_flat = (
        section_area(motor, [0, 1, 0], [0, motor.bounds[0, 1] + along, 0]) for along in (4.0, 14.0)
    )
    # A circle of 5.8 mm, and the same less a segment 0.7 mm high (the area of a segment, closed form).
    r, h = 2.9, 0.7
    segment = r * r * np.arccos((r - h) / r) - (r - h) * np.sqrt(2 * r * h - h * h)
    assert behind_flat == pytest.approx(np.pi * r * r, rel=2e-3)
    assert near_tip == pytest.approx(np.pi * r * r - segment, rel=2e-3)
    # Across the can, near its rear: a circle of 21.6 mm, so the can lies along x.
    can = section_area(motor, [1, 0, 0], [motor.bounds[1, 0] - 12, 0, 0])
    assert can == pytest.approx(np.pi * 10.8**2, rel=2e-3)


def test_board_and_cell_lie_side_by_side_with_room_for_a_rib():
    spec, _ = load_project(SAMPLES / "rain_logger")
    board, cell = in_build_frame("rain_logger")
    squared, _, _ = igl.point_mesh_squared_distance(
        cell.vertices, board.vertices, board.faces.astype(np.int64)
    )
    rib_mm = np.sqrt(squared.min()) - 2 * spec.fit.clearance_mm
    assert rib_mm >= spec.shell.wall_mm
    middle_of_board = (board.bounds[0, 2] + 1.9) + 0.8  # solder joints reach 1.9 mm down, the board is 1.6
    middle_of_cell = cell.bounds[:, 2].mean()
    assert spec.parting.height_mm == pytest.approx(middle_of_board, abs=1e-3)
    assert spec.parting.height_mm == pytest.approx(middle_of_cell, abs=1e-3)
    lengthwise = trimesh.Trimesh(cell.vertices, cell.faces, process=False).bounding_box.extents
    assert np.argmax(lengthwise) == 0  # laid along the board, not standing


def test_no_measure_is_one_that_the_documents_use():
    """No size of a sample part stands in DEVELOPERS.md, so no example there can be mistaken for it."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    sizes = [m.size_mm for name in SCRIPTS for m in in_build_frame(name)]
    triples = re.findall(r"(\d+(?:\.\d+)?) x (\d+(?:\.\d+)?) x (\d+(?:\.\d+)?)", text)
    for triple in [*triples, ("57", "40", "20"), ("61.5", "44", "22")]:
        for size in sizes:
            assert not np.allclose(np.sort(size), np.sort(np.array(triple, float)), atol=0.5)


def test_the_program_finds_them():
    found = {p.name for p in samples_dir().iterdir() if (p / "project.json").is_file()}
    assert found >= set(SCRIPTS)
