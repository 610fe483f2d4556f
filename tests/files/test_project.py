from __future__ import annotations

import errno
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from housingdesk.errors import FileError, HousingError, SpecError
from housingdesk.files import atomic
from housingdesk.files.project import is_project, load_project, save_project
from housingdesk.geometry.types import Mesh
from housingdesk.spec.migrations import FORMAT, STEPS, VERSION, migrate
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, Spec
from tests.files.makers import box

MOTOR = Mesh(box().vertices * np.pi + 1 / 3, box().faces[::-1])  # numbers that no text would keep
BOARD = box((70.0, 40.0, 1.6))
MESHES = {m.key: m for m in (MOTOR, BOARD)}


def spec(clearance_mm: float = 0.5) -> Spec:
    parts = (
        PartSpec(name="Vent motor µ", mesh_key=MOTOR.key, source_name="motor.stl", unit="cm"),
        PartSpec(name="Board", mesh_key=BOARD.key, placement=tuple(np.diag([1.0, -1, -1, 1]).ravel())),
        PartSpec(name="Second board", mesh_key=BOARD.key, scale=1.1),
    )
    return Spec(
        name="Höhle", parts=parts, parting=PartingSpec(height_mm=8.25), fit=FitSpec(clearance_mm=clearance_mm)
    )


KINDS = ["folder", "file.hdesk"]


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_lost(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "deep" / kind
    save_project(path, spec(), MESHES)
    again, meshes = load_project(path)
    assert again == spec()
    assert {k: m.key for k, m in meshes.items()} == {k: k for k in MESHES}
    np.testing.assert_array_equal(meshes[MOTOR.key].vertices, MOTOR.vertices)
    assert is_project(path)


def test_a_file_is_a_zip_of_the_folder_and_others_can_read_it(tmp_path: Path) -> None:
    save_project(tmp_path / "a", spec(), MESHES)
    save_project(tmp_path / "a.hdesk", spec(), MESHES)
    with zipfile.ZipFile(tmp_path / "a.hdesk") as archive:
        assert archive.testzip() is None
        inside = {n: archive.read(n) for n in archive.namelist()}
        archive.extractall(tmp_path / "unpacked")
    on_disk = {
        p.relative_to(tmp_path / "a").as_posix(): p.read_bytes() for p in (tmp_path / "a").rglob("*.*")
    }
    assert inside == on_disk
    assert load_project(tmp_path / "unpacked" / "project.json")[0] == spec()
    document = json.loads((tmp_path / "a" / "project.json").read_text(encoding="utf-8"))
    assert (document["format"], document["version"]) == ("housing desk project", 1)
    outside = trimesh.load(tmp_path / "a" / "parts" / f"{MOTOR.key}.ply", process=False)
    np.testing.assert_array_equal(outside.vertices, MOTOR.vertices)
    np.testing.assert_array_equal(outside.faces, MOTOR.faces)


def test_a_folder_keeps_only_the_parts_in_use_and_whatever_else_is_in_it(tmp_path: Path) -> None:
    save_project(tmp_path, spec(), MESHES)
    (tmp_path / "parts" / "notes.ply").write_text("mine")
    (tmp_path / "photo.jpg").write_text("mine too")
    less = spec().model_copy(update={"parts": spec().parts[:1]})
    save_project(tmp_path, less, MESHES)
    names = {p.name for p in tmp_path.rglob("*") if p.is_file()}
    assert names == {"project.json", f"{MOTOR.key}.ply", "notes.ply", "photo.jpg"}
    assert load_project(tmp_path)[0] == less


@pytest.mark.parametrize(("kind", "fail_at"), [("folder", 0), ("folder", 1), ("file.hdesk", 0)])
def test_a_failure_at_any_write_leaves_the_old_project(
    kind: str, fail_at: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / kind
    save_project(path, spec(), MESHES)
    other = box((9.0, 8.0, 7.0))
    new = spec(1.5).model_copy(update={"parts": (PartSpec(name="New", mesh_key=other.key),)})
    real, calls = atomic._sync, iter(range(100))

    def full(file: Path) -> None:
        if next(calls) == fail_at:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(file)

    monkeypatch.setattr(atomic, "_sync", full)
    with pytest.raises(FileError, match="disk is full"):
        save_project(path, new, {other.key: other})
    monkeypatch.undo()
    assert load_project(path)[0] == spec()
    assert not [p for p in tmp_path.rglob(".*") if p.is_file()]  # no temporary file stays


def edited(path: Path, change: Callable[[dict[str, Any]], None]) -> Path:
    """A saved project whose document was changed by hand."""
    save_project(path, spec(), MESHES)
    document = json.loads((path / "project.json").read_text(encoding="utf-8"))
    change(document)
    (path / "project.json").write_text(json.dumps(document), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.update(version=7), r"written by a newer Housing Desk \(version 7\); update the program"),
        (lambda d: d.update(version="1"), "which version"),
        (lambda d: d.update(version=True), "which version"),
        (lambda d: d.pop("version"), "which version"),
        (lambda d: d.update(format="something else"), "not a Housing Desk project"),
        (lambda d: d.update(spec=[1, 2]), "holds no housing"),
        (lambda d: d.pop("spec"), "holds no housing"),
        (lambda d: d["spec"]["fit"].update(clearance_mm=-1), "clearance must be between 0 and 20 mm"),
        (lambda d: d["spec"]["fit"].update(clearance_mm="wide"), "clearance must be a number"),
        (lambda d: d["spec"]["fit"].update(clearance_mm=float("nan")), "clearance must be"),
        (lambda d: d["spec"]["shell"].update(wall_mm=0), r"wall must be between 0\.4 and 50 mm"),
        (lambda d: d["spec"].update(parts=[]), "part.* must have"),
        (lambda d: d["spec"].update(surprise=1), "surprise"),
        (lambda d: d["spec"]["parts"][0].update(mesh_key="../../etc/passwd"), "unknown way|none of ours"),
        (lambda d: d["spec"]["parts"][0].update(mesh_key="0" * 32), "has no parts/0|missing in it"),
        (
            lambda d: d["spec"]["parts"][0].update(placement=[1, 2]),
            "placement of the part must have exactly 16",
        ),
    ],
)
def test_a_document_changed_by_hand(
    change: Callable[[dict[str, Any]], None], words: str, tmp_path: Path
) -> None:
    with pytest.raises((FileError, SpecError), match=words) as caught:
        load_project(edited(tmp_path / "p", change))
    assert "\n" not in str(caught.value)


def test_a_document_cut_anywhere_is_refused(tmp_path: Path) -> None:
    save_project(tmp_path, spec(), MESHES)
    whole = (tmp_path / "project.json").read_bytes()
    for keep in range(0, len(whole.rstrip()), 41):
        (tmp_path / "project.json").write_bytes(whole[:keep])
        with pytest.raises(FileError, match="cut off or damaged"):
            load_project(tmp_path)


@pytest.mark.parametrize("text", [b"[" * 100_000, b"[1, 2]", b"null", b"\xff\xfe\0", b'"text"'])
def test_documents_that_are_something_else(text: bytes, tmp_path: Path) -> None:
    save_project(tmp_path, spec(), MESHES)
    (tmp_path / "project.json").write_bytes(text)
    with pytest.raises(FileError):
        load_project(tmp_path)


def test_a_part_that_is_not_the_one_saved_is_refused(tmp_path: Path) -> None:
    save_project(tmp_path, spec(), MESHES)
    names = [tmp_path / "parts" / f"{m.key}.ply" for m in (MOTOR, BOARD)]
    names[0].write_bytes(names[1].read_bytes())
    with pytest.raises(FileError, match="not the one that was saved"):
        load_project(tmp_path)
    names[0].unlink()
    with pytest.raises(FileError, match="is missing in it"):
        load_project(tmp_path)


def test_missing_and_empty_places(tmp_path: Path) -> None:
    for path in (tmp_path / "none", tmp_path / "none.hdesk", tmp_path / "none" / "project.json"):
        with pytest.raises(FileError, match="does not exist"):
            load_project(path)
    with pytest.raises(FileError, match=r"project\.json"):
        load_project(tmp_path)
    (tmp_path / "a.hdesk").write_bytes(b"")
    with pytest.raises(FileError, match="damaged"):
        load_project(tmp_path / "a.hdesk")


@pytest.mark.parametrize("name", ["../outside.txt", "parts/../../x", "/etc/x", "..\\x", "C:\\x", "c:/x"])
def test_a_name_that_climbs_out_is_refused(name: str, tmp_path: Path) -> None:
    path = tmp_path / "a.hdesk"
    save_project(path, spec(), MESHES)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(name, "x")
    with pytest.raises(FileError, match="leads out of its folder"):
        load_project(path)


def test_a_flood_is_refused_by_its_table_of_contents_and_by_its_data(tmp_path: Path) -> None:
    path = tmp_path / "a.hdesk"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("project.json", b" " * 60_000_000)
    with pytest.raises(FileError, match="far more than its size"):
        load_project(path)
    # The same with a table of contents that lies about the size: 60 MB announced as 1000 bytes.
    data = path.read_bytes()
    lied = data.replace((60_000_000).to_bytes(4, "little"), (1000).to_bytes(4, "little"))
    assert lied != data
    path.write_bytes(lied)
    with pytest.raises(FileError):
        load_project(path)


def test_a_file_cut_anywhere_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.hdesk"
    save_project(path, spec(), MESHES)
    whole = path.read_bytes()
    for keep in range(0, len(whole) - 1, 97):
        path.write_bytes(whole[:keep])
        with pytest.raises(HousingError):
            load_project(path)


def test_a_locked_file_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.hdesk"
    save_project(path, spec(), MESHES)
    data = bytearray(path.read_bytes())
    # General purpose bit 0 means encrypted (PKWARE APPNOTE 4.4.4), in local and central headers.
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = data.find(mark)
        while at >= 0:
            data[at + offset] |= 1
            at = data.find(mark, at + 4)
    path.write_bytes(data)
    with pytest.raises(FileError, match="password"):
        load_project(path)


# --- migrations -------------------------------------------------------------------------------------


def test_old_documents_go_through_every_step_in_order() -> None:
    old = {"format": FORMAT, "version": 1, "spec": {"gap": 0.5}}
    steps = {
        1: lambda d: d | {"spec": {"gap_mm": d["spec"]["gap"]}},
        2: lambda d: d | {"spec": {"fit": {"clearance_mm": d["spec"]["gap_mm"]}}},
    }
    new = migrate(old, steps=steps, version=3)
    assert new == {"format": FORMAT, "version": 3, "spec": {"fit": {"clearance_mm": 0.5}}}
    assert old == {"format": FORMAT, "version": 1, "spec": {"gap": 0.5}}
    assert migrate(migrate(old, steps=steps, version=2), steps=steps, version=3) == new
    with pytest.raises(FileError, match=r"newer Housing Desk \(version 4\)"):
        migrate({"format": FORMAT, "version": 4}, steps=steps, version=3)


def test_every_version_before_this_one_has_its_step() -> None:
    assert sorted(STEPS) == list(range(1, VERSION))


def test_fields_with_defaults_may_be_missing(tmp_path: Path) -> None:
    def only_what_must_be(document: dict[str, Any]) -> None:
        part = {"name": "Motor", "mesh_key": MOTOR.key}
        document["spec"] = {"parts": [part], "parting": {"height_mm": 4}}

    again, _ = load_project(edited(tmp_path / "p", only_what_must_be))
    assert again == Spec(
        parts=(PartSpec(name="Motor", mesh_key=MOTOR.key),), parting=PartingSpec(height_mm=4)
    )
