"""What surrounds a document: recovery after a crash, recent files, the first housing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from housingdesk.build.results import LoadedPart, MeshFacts, PlaneProposal
from housingdesk.document.autosave import Autosaver, Recovery, recovered
from housingdesk.document.document import Document
from housingdesk.document.first import first_spec, part_of
from housingdesk.document.recent import KEEP, Recent
from housingdesk.errors import FileError
from housingdesk.files import project
from housingdesk.spec import edits
from housingdesk.spec.models import FitSpec, PartingSpec, ShellSpec, Spec
from tests.document.samples import PART, SPEC, document

ROOT = Path(__file__).resolve().parents[2]

# A window that copies its work and then ends without any clean-up, as in a crash.
CRASH = """
import os, sys
from pathlib import Path
from housingdesk.document.autosave import Autosaver
from housingdesk.spec import edits
from tests.document.samples import document
d = document()
if sys.argv[2]:
    d.save(Path(sys.argv[2]))
d.apply(edits.set_wall(float(sys.argv[3])))
assert Autosaver(Path(sys.argv[1])).save(d)
os._exit(9)
"""


def crash(folder: Path, origin: Path | None, wall_mm: float) -> None:
    done = subprocess.run(
        [sys.executable, "-c", CRASH, str(folder), str(origin or ""), str(wall_mm)],
        env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 9, done.stderr


def only(saver: Autosaver) -> Recovery:
    (found,) = saver.recoverable()
    return found


def files_in(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


def test_work_is_recovered_after_a_crash(tmp_path: Path) -> None:
    origin = tmp_path / "vent.hdesk"
    crash(tmp_path / "data", origin, 3.5)
    saver = Autosaver(tmp_path / "data")
    found = only(saver)
    assert (found.name, found.origin) == ("Vent", origin)
    back = recovered(found)
    assert back.spec == edits.set_wall(3.5).apply(SPEC, {})
    assert back.meshes[PART.key].key == PART.key
    assert (back.path, back.modified) == (origin, True)
    assert Document.open(origin).spec == SPEC  # the user's own file was not touched
    back.save()
    assert Document.open(origin).spec == back.spec
    saver.discard(found)
    assert saver.recoverable() == []


def test_work_that_was_never_saved_is_recovered_newest_first(tmp_path: Path) -> None:
    crash(tmp_path, None, 3)
    crash(tmp_path, None, 4)
    first, second = Autosaver(tmp_path).recoverable()
    assert first.saved_at >= second.saved_at
    assert {recovered(r).spec.shell.wall_mm for r in (first, second)} == {3, 4}
    assert recovered(first).path is None


def test_a_living_session_is_not_offered_and_a_clean_end_leaves_nothing(tmp_path: Path) -> None:
    living, other = Autosaver(tmp_path), Autosaver(tmp_path)
    d = document()
    d.apply(edits.set_wall(3))
    assert living.save(d)
    assert other.recoverable() == living.recoverable() == []
    living.close()
    assert other.recoverable() == []
    assert files_in(tmp_path) == []
    living.close()


def test_only_unsaved_changes_are_copied(tmp_path: Path) -> None:
    saver, d = Autosaver(tmp_path / "data"), document()
    assert not saver.save(d)
    assert not (tmp_path / "data").exists()
    d.apply(edits.set_wall(3))
    assert saver.save(d)
    assert not saver.save(d)
    d.apply(edits.set_clearance(1))
    assert saver.save(d)
    d.save(tmp_path / "a.hdesk")
    assert not saver.save(d)  # the user's own file has it now
    assert not any(name.endswith("hdesk") for name in files_in(tmp_path / "data"))
    d.undo()
    assert saver.save(d)  # differs from the file again
    saver.close()


def test_a_copy_that_fails_leaves_the_copy_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    saver, d = Autosaver(tmp_path), document()
    d.apply(edits.set_wall(3))
    saver.save(d)
    (copy,) = tmp_path.rglob("*.hdesk")
    before, names = copy.read_bytes(), files_in(tmp_path)
    d.apply(edits.set_wall(4))

    def full(mesh: object) -> bytes:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(project, "ply_bytes", full)
        with pytest.raises(FileError, match="disk is full"):
            saver.save(d)
    assert copy.read_bytes() == before
    assert files_in(tmp_path) == names
    assert saver.save(d)  # and it is tried again next time
    saver.close()


def test_a_damaged_copy_is_told_and_a_missing_origin_does_no_harm(tmp_path: Path) -> None:
    crash(tmp_path, tmp_path / "vent.hdesk", 3)
    found = only(Autosaver(tmp_path))
    (found.path.parent / "origin.json").write_text("{")
    again = only(Autosaver(tmp_path))
    assert (again.origin, recovered(again).spec.shell.wall_mm) == (None, 3)
    found.path.write_bytes(found.path.read_bytes()[:100])
    with pytest.raises(FileError):
        recovered(only(Autosaver(tmp_path)))


# --- recent files -----------------------------------------------------------------------------------


def made(folder: Path, count: int) -> list[Path]:
    paths = [folder / f"{i}.stl" for i in range(count)]
    for path in paths:
        path.touch()
    return paths


def test_recent_files_are_newest_first_without_doubles_and_bounded(tmp_path: Path) -> None:
    paths, recent = made(tmp_path, KEEP + 3), Recent(tmp_path / "data")
    assert (recent.parts, recent.projects) == ((), ())
    for path in paths:
        recent.add("parts", path)
    recent.add("projects", paths[0])
    assert recent.parts == tuple(paths[:-KEEP-1:-1])  # fmt: skip
    recent.add("parts", paths[-3])
    assert recent.parts[:4] == (paths[-3], paths[-1], paths[-2], paths[-4])
    assert len(recent.parts) == KEEP
    assert Recent(tmp_path / "data").projects == (paths[0],)
    recent.forget(paths[-1])
    paths[-2].unlink()
    assert recent.parts[:2] == (paths[-3], paths[-4])


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"parts": 3}', '{"parts": [null]}', '{"parts": ["\\u0000", "x"]}', "\xff"]
)
def test_a_broken_list_is_an_empty_one_and_is_mended(tmp_path: Path, text: str) -> None:
    (tmp_path / "recent.json").write_text(text, encoding="latin-1")
    recent = Recent(tmp_path)
    assert recent.parts == ()
    (path,) = made(tmp_path, 1)
    recent.add("parts", path)
    assert recent.parts == (path,)


def test_a_list_that_cannot_be_written_is_left(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    (path,) = made(tmp_path, 1)
    recent = Recent(tmp_path / "file")  # a folder cannot be made where a file is
    recent.add("parts", path)
    assert recent.parts == ()


# --- the first housing ------------------------------------------------------------------------------


def loaded() -> LoadedPart:
    return LoadedPart(
        "vent motor", "vent_motor.stl", PART, "cm", "guessed", MeshFacts(4, 0, 0, 0, 0, 1, 0, ())
    )


def test_the_first_housing_is_complete() -> None:
    spec = first_spec(loaded())
    assert spec == Spec(
        name="vent motor",
        parts=(part_of(loaded()),),
        parting=PartingSpec(pull="+z", height_mm=100),  # half of 20 cm
        fit=FitSpec(clearance_mm=0.5),
        shell=ShellSpec(wall_mm=2.4),
    )
    part = spec.parts[0]
    assert (part.name, part.source_name, part.mesh_key) == ("vent motor", "vent_motor.stl", PART.key)
    assert (part.unit, part.unit_origin) == ("cm", "guessed")


def test_a_proposal_decides_the_plane() -> None:
    assert first_spec(loaded(), PlaneProposal("-y", 42, 0, 1, "Least relief.")).parting == PartingSpec(
        pull="-y", height_mm=42
    )
