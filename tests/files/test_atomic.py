"""A real refusal by the system (a limit on file size) and made ones: nothing half-written is left."""

from __future__ import annotations

import errno
import subprocess
import sys
from pathlib import Path

import pytest

from housingdesk.errors import FileError
from housingdesk.files.atomic import file_error, replacing, staged_folder


def listed(folder: Path) -> dict[str, str]:
    return {p.relative_to(folder).as_posix(): p.read_text() for p in folder.rglob("*") if p.is_file()}


def test_replacing_takes_the_place_only_at_the_end(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")
    with replacing(path) as stream:
        stream.write(b"new")
        stream.flush()
        assert path.read_text() == "old"
    assert listed(tmp_path) == {"a.txt": "new"}


def test_a_failure_inside_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")
    with pytest.raises(KeyError), replacing(path) as stream:
        stream.write(b"half of it")
        raise KeyError
    assert listed(tmp_path) == {"a.txt": "old"}


def test_staged_files_appear_together_and_others_stay(tmp_path: Path) -> None:
    (tmp_path / "lower.stl").write_text("old")
    (tmp_path / "notes.txt").write_text("mine")
    with staged_folder(tmp_path) as staged:
        (staged / "lower.stl").write_text("new")
        (staged / "upper.stl").write_text("new")
        assert (tmp_path / "lower.stl").read_text() == "old"
        assert not (tmp_path / "upper.stl").exists()
    assert listed(tmp_path) == {"lower.stl": "new", "upper.stl": "new", "notes.txt": "mine"}
    assert not [p for p in tmp_path.iterdir() if p.is_dir()]


def test_what_may_not_be_replaced_stays_and_nothing_else_appears(tmp_path: Path) -> None:
    (tmp_path / "upper.stl").write_text("mine")
    with pytest.raises(FileError, match="there already"), staged_folder(tmp_path, replace=False) as staged:
        (staged / "lower.stl").write_text("new")
        (staged / "upper.stl").write_text("new")
    assert listed(tmp_path) == {"upper.stl": "mine"}
    assert [p.name for p in tmp_path.iterdir()] == ["upper.stl"]


def test_what_was_replaced_is_put_back_when_a_later_file_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "lower.stl").write_text("old")
    (tmp_path / "upper.stl").write_text("old")
    move = Path.replace

    def refusing(self: Path, target: Path) -> Path:
        if self.name == "upper.stl":  # as a system does with a file that another program holds open
            raise PermissionError(errno.EACCES, "held open")
        return move(self, target)

    monkeypatch.setattr(Path, "replace", refusing)
    with pytest.raises(FileError, match="no permission"), staged_folder(tmp_path) as staged:
        for name in ("halves.3mf", "lower.stl", "upper.stl"):
            (staged / name).write_text("new")
    assert listed(tmp_path) == {"lower.stl": "old", "upper.stl": "old"}


def test_a_target_is_made_only_on_success(tmp_path: Path) -> None:
    target = tmp_path / "a" / "b"
    with pytest.raises(KeyError), staged_folder(target) as staged:
        (staged / "lower.stl").write_text("half")
        raise KeyError
    assert list(tmp_path.iterdir()) == []
    with staged_folder(target) as staged:
        (staged / "lower.stl").write_text("whole")
    assert listed(tmp_path) == {"a/b/lower.stl": "whole"}


def test_a_relative_target(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with staged_folder(Path("out")) as staged:
        (staged / "a").write_text("x")
    assert listed(tmp_path) == {"out/a": "x"}


def test_targets_that_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "folder" / "lower.stl").mkdir(parents=True)
    for target in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(FileError, match="is a file and not a folder"), staged_folder(target):
            pytest.fail("nothing may be started")
    with (
        pytest.raises(FileError, match="a folder has that name"),
        staged_folder(tmp_path / "folder") as staged,
    ):
        (staged / "a.stl").write_text("x")
        (staged / "lower.stl").write_text("x")
    with pytest.raises(FileError, match="does not exist"), replacing(tmp_path / "none" / "a"):
        pytest.fail("nothing may be started")
    assert listed(tmp_path) == {"file": "mine"}


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="limits of this kind are Linux's")
@pytest.mark.parametrize("what", ["stl", "3mf", "project", "folder"])
def test_the_system_takes_no_more_bytes(what: str, tmp_path: Path) -> None:
    # RLIMIT_FSIZE makes the kernel itself refuse the write (EFBIG, setrlimit(2)), as a full disk does.
    script = f"""
import resource, sys, trimesh
from pathlib import Path
from housingdesk.errors import FileError
from housingdesk.files.atomic import staged_folder
from housingdesk.files.project import save_project
from housingdesk.files.write import write_3mf, write_stl
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
ball = trimesh.creation.icosphere(subdivisions=5)
mesh = Mesh(ball.vertices, ball.faces)
folder = Path({str(tmp_path)!r})
def stage():
    with staged_folder(folder) as staged:
        (staged / "small").write_text("x")
        write_stl(staged / "a.stl", mesh, "x")
spec = Spec(parts=(PartSpec(name="a", mesh_key=mesh.key),), parting=PartingSpec(height_mm=1))
jobs = {{
    "stl": lambda: write_stl(folder / "old", mesh, "x"),
    "3mf": lambda: write_3mf(folder / "old", {{"x": mesh}}),
    "project": lambda: save_project(folder / "old.hdesk", spec, {{mesh.key: mesh}}),
    "folder": stage,
}}
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
try:
    jobs[{what!r}]()
except FileError as error:
    print(error)
    sys.exit(2)
"""
    (tmp_path / "old").write_text("old")
    (tmp_path / "old.hdesk").write_text("old")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stderr
    assert done.stdout.startswith("Cannot write")
    assert done.stdout.count("\n") == 1
    assert listed(tmp_path) == {"old": "old", "old.hdesk": "old"}


def test_sentences_of_the_system() -> None:
    for code, words in (
        (errno.ENOSPC, "the disk is full"),
        (errno.EACCES, "no permission"),
        (errno.EROFS, "cannot be written to"),
        (errno.EIO, "Input/output error"),
    ):
        text = str(file_error(OSError(code, "Input/output error"), "write", Path("out")))
        assert text.startswith("Cannot write out: ")
        assert words in text
        assert text.endswith(".")
