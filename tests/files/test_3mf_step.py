"""3MF (written by lib3mf) and STEP (real files)."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import lib3mf
import numpy as np
import pytest

from housingdesk.errors import FileError
from housingdesk.files.meshes import read_part
from housingdesk.geometry.frames import rotation_about
from housingdesk.spec.models import UNIT_MM
from tests.files.makers import BOX_MM, box, mesh_object, save_3mf, shift

BOX_VOLUME = 40.0 * 30.0 * 20.0


def new_model(unit: lib3mf.ModelUnit = lib3mf.ModelUnit.MilliMeter) -> lib3mf.Model:
    model = lib3mf.get_wrapper().CreateModel()
    model.SetUnit(unit)
    return model


# 3MF Core Specification 1.4.0, section 3.4: micron, millimeter, centimeter, inch, foot, meter.
@pytest.mark.parametrize(
    ("unit", "unit_mm", "extents"),
    [
        (lib3mf.ModelUnit.MicroMeter, 0.001, (40000.0, 30000.0, 20000.0)),
        (lib3mf.ModelUnit.MilliMeter, 1.0, (40.0, 30.0, 20.0)),
        (lib3mf.ModelUnit.CentiMeter, 10.0, (4.0, 3.0, 2.0)),
        (lib3mf.ModelUnit.Inch, 25.4, (2.0, 1.5, 1.0)),
        (lib3mf.ModelUnit.Foot, 304.8, (0.5, 0.25, 0.125)),
        (lib3mf.ModelUnit.Meter, 1000.0, (0.25, 0.125, 0.0625)),
    ],
)
def test_units_are_kept(
    unit: lib3mf.ModelUnit, unit_mm: float, extents: tuple[float, float, float], tmp_path: Path
) -> None:
    model = new_model(unit)
    model.AddBuildItem(mesh_object(model, box(extents), "box"), shift(0, 0, 0))
    part = read_part(save_3mf(model, tmp_path / "box.3mf"), unit="cm")  # a tag is stronger than a wish
    assert part.unit_origin == "tagged"
    np.testing.assert_allclose(part.mesh.size_mm * UNIT_MM[part.unit], np.array(extents) * unit_mm, rtol=1e-6)


def test_items_components_and_transforms(tmp_path: Path) -> None:
    model = new_model()
    body = mesh_object(model, box(), "box")
    pair = model.AddComponentsObject()
    pair.AddComponent(body, shift(0, 0, 0))
    pair.AddComponent(body, shift(100, 0, 0))
    turn = rotation_about(np.array([0.0, 0.0, 1.0]), 90.0)[:3, :3]
    model.AddBuildItem(pair, shift(0, 0, 500, turn.T))  # rows of row vectors: the transpose
    model.AddBuildItem(body, shift(0, 0, 0))
    part = read_part(save_3mf(model, tmp_path / "three.3mf"))
    assert part.facts.bodies == 3
    assert part.mesh.volume_mm3 == pytest.approx(3 * BOX_VOLUME, rel=1e-6)
    # The pair, turned by 90 degrees about Z, lies along +Y: x 30 wide, y from -20 to 120.
    low, high = part.mesh.bounds
    np.testing.assert_allclose(low, (-20, -20, -10), atol=1e-4)
    np.testing.assert_allclose(high, (20, 120, 510), atol=1e-4)


def test_components_that_multiply_without_end_are_refused(tmp_path: Path) -> None:
    model = new_model()
    inner = mesh_object(model, box(), "box")
    for _ in range(20):  # 2**20 boxes in a few kilobytes
        outer = model.AddComponentsObject()
        outer.AddComponent(inner, shift(1, 0, 0))
        outer.AddComponent(inner, shift(0, 1, 0))
        inner = outer
    model.AddBuildItem(inner, shift(0, 0, 0))
    with pytest.raises(FileError, match="repeats its bodies too often"):
        read_part(save_3mf(model, tmp_path / "many.3mf"))


def test_bad_3mf(tmp_path: Path) -> None:
    path = tmp_path / "bad.3mf"
    path.write_bytes(b"PK but no zip")
    with pytest.raises(FileError, match="damaged"):
        read_part(path)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("hello.txt", "no model here")
    with pytest.raises(FileError, match="not a 3MF"):
        read_part(path)
    model = new_model()
    mesh_object(model, box(), "never placed")
    with pytest.raises(FileError, match=r"no triangles|not a 3MF"):
        read_part(save_3mf(model, path))


def test_a_3mf_that_unpacks_to_a_flood_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "flood.3mf"
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", b" " * 50_000_000)
    path.write_bytes(buffer.getvalue())
    with pytest.raises(FileError, match="far more than its size"):
        read_part(path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"hello", "not a STEP"),
        (b"ISO-10303-21;\nHEADER;\n", "cut off"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n", "not a STEP|no triangles"),
        (b"ISO-10303-21;\nnonsense\nEND-ISO-10303-21;\n", "not a STEP|no triangles"),
    ],
)
def test_bad_step_says_one_sentence_and_prints_nothing(
    text: bytes, words: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad.step"
    path.write_bytes(text)
    with pytest.raises(FileError, match=words):
        read_part(path)
    assert capfd.readouterr() == ("", "")


@pytest.mark.shared
def test_step_stl_and_3mf_of_one_block(shared_parts: Path) -> None:
    # 127 x 63.5 x 34.925 mm: 5 x 2.5 x 1.375 inch, the size the shared index states for all three
    truth = np.array([5.0, 2.5, 1.375]) * 25.4
    seen = {}
    for name in (
        "units_featuretype.step",
        "units_featuretype_inches.stl",
        "units_featuretype_inch_holes.3mf",
    ):
        part = read_part(shared_parts / name)
        mm = UNIT_MM[part.unit]
        np.testing.assert_allclose(np.sort(part.mesh.size_mm) * mm, np.sort(truth), atol=2e-3)
        seen[name] = (part.unit, part.unit_origin, part.mesh.volume_mm3 * mm**3)
    assert seen["units_featuretype.step"][:2] == ("mm", "tagged")
    assert seen["units_featuretype_inches.stl"][:2] == ("inch", "guessed")
    assert seen["units_featuretype_inch_holes.3mf"][:2] == ("inch", "tagged")
    # two tessellations of round holes: volumes agree to their chords
    step, mesh = seen["units_featuretype.step"][2], seen["units_featuretype_inches.stl"][2]
    assert step == pytest.approx(mesh, rel=2e-3)


@pytest.mark.shared
def test_step_and_stl_of_one_servo(shared_parts: Path) -> None:
    step = read_part(shared_parts / "servo_sts3215.step")
    stl = read_part(shared_parts / "servo_sts3215_metres.stl")
    assert (step.unit, stl.unit) == ("mm", "m")
    # the shared index: volumes agree to 1e-5
    assert step.mesh.volume_mm3 == pytest.approx(stl.mesh.volume_mm3 * 1e9, rel=5e-5)


def test_box_constant_is_the_box() -> None:
    assert box().volume_mm3 == pytest.approx(BOX_MM[0] * BOX_MM[1] * BOX_MM[2])
