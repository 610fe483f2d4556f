"""Rules of the house that no linter holds."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import trimesh

from tests.conftest import ROOT

PACKAGE = ROOT / "housingdesk"

# --- the command line needs neither Qt nor VTK -------------------------------------------------------

WINDOW_LIBRARIES = ("PySide6", "shiboken6", "pyvistaqt", "qtpy", "pyvista", "vtk", "vtkmodules")
# Read by every Python process on its start, the worker included: writes down each import of such a library.
WATCHER = """
import os, sys
class Watcher:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {libraries!r}:
            with open({log!r}, "a") as log:
                print(name, "in", sys.argv, file=log)
sys.meta_path.insert(0, Watcher())
"""


def watched(tmp_path: Path, *arguments: str | Path) -> tuple[subprocess.CompletedProcess[str], str]:
    """Run Python with no screen; return how it ended and which window libraries it asked for."""
    log = tmp_path / "imports.log"
    watcher = tmp_path / "watcher"
    watcher.mkdir()
    (watcher / "sitecustomize.py").write_text(WATCHER.format(libraries=WINDOW_LIBRARIES, log=str(log)))
    environment = {k: v for k, v in os.environ.items() if k not in {"DISPLAY", "WAYLAND_DISPLAY"}}
    environment["PYTHONPATH"] = str(watcher)
    command = [sys.executable, *map(str, arguments)]
    done = subprocess.run(
        command, cwd=ROOT, env=environment, capture_output=True, text=True, encoding="utf-8", timeout=300
    )
    return done, log.read_text(encoding="utf-8") if log.exists() else ""


def test_the_watcher_sees_an_import(tmp_path):
    done, asked = watched(tmp_path, "-c", "import PySide6.QtCore")
    assert done.returncode == 0, done.stderr
    assert asked.startswith("PySide6 in")


def test_the_watcher_sees_an_import_of_a_child(tmp_path):
    child = "import subprocess, sys; subprocess.run([sys.executable, '-c', 'import pyvista'], check=True)"
    done, asked = watched(tmp_path, "-c", child)
    assert done.returncode == 0, done.stderr
    assert "vtkmodules" in asked


@pytest.mark.parametrize("sample", [False, True], ids=["part", "sample project"])
def test_make_loads_neither_qt_nor_vtk(tmp_path, sample):
    part = ROOT / "sample_projects" / "vent_drive"
    if not sample:
        part = tmp_path / "block.stl"
        trimesh.creation.box((12, 9, 7)).export(part)
    done, asked = watched(tmp_path, "-m", "housingdesk", "make", part, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stdout + done.stderr
    made = {p.name for p in (tmp_path / "out").iterdir()}
    assert made >= {"lower.stl", "upper.stl", "halves.3mf", "proof.json"}
    assert asked == ""


# --- the client's layout, and nothing of one machine -----------------------------------------------

TOP = {"pyproject.toml", "README.md", "DEVELOPERS.md", "housingdesk", "resources", "tests", "sample_projects"}
NOT_OURS = {"__pycache__", "_data"}


def tracked() -> list[Path]:
    """Files of the project: what git knows, or in a copy without git what lies in the folders of TOP."""
    if (ROOT / ".git").exists():
        command = ["git", "-c", f"safe.directory={ROOT}", "ls-files", "-z"]
        names = subprocess.run(
            command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=True
        ).stdout
        return [ROOT / n for n in names.split("\0") if n and (ROOT / n).is_file()]
    found = [p for name in TOP for p in (ROOT / name, *(ROOT / name).rglob("*"))]
    return [p for p in found if p.is_file() and not NOT_OURS & set(p.parts)]


def test_the_top_level_holds_only_what_the_client_fixed():
    top = {p.relative_to(ROOT).parts[0] for p in tracked()}
    assert {name for name in top if not name.startswith(".")} <= TOP


def test_no_file_names_a_place_of_one_machine():
    place = re.compile(rb"/(?:work|root|farm|home/\w+|Users/\w+)/|[A-Z]:\\Users\\")
    cited = [p for p in tracked() if place.search(p.read_bytes())]
    assert not cited


# --- words ------------------------------------------------------------------------------------------

# The user knows millimetres, calipers, screws and a printer.
JARGON = re.compile(  # "element vertex" is a line of the PLY format
    r"\b(mesh(es)?|boolean|(?<!element )vertex|vertices|(non-?)?manifold|triangle soup|signed distance|sdf|"
    r"isosurface|voxels?|half-?edges?|traceback)\b",
    re.IGNORECASE,
)
# What these say is for a developer: a bug, not a user's mistake.
FOR_DEVELOPERS = {
    "ValueError",
    "TypeError",
    "RuntimeError",
    "AssertionError",
    "KeyError",
    "debug",
    "exception",
}


def called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def phrases(node: ast.AST) -> Iterator[ast.Constant]:
    """Yield the string literals with a blank in them, but no docstrings and nothing said to developers."""
    if isinstance(node, ast.Call) and called(node) in FOR_DEVELOPERS:
        return
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            continue
        if isinstance(child, ast.Constant) and isinstance(child.value, str) and " " in child.value.strip():
            yield child
        yield from phrases(child)


def test_no_sentence_of_the_program_uses_a_word_the_user_does_not_know():
    found = [
        f"{path.relative_to(ROOT)}:{phrase.lineno}: {phrase.value!r}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for phrase in phrases(ast.parse(path.read_text(encoding="utf-8")))
        if JARGON.search(phrase.value)
    ]
    assert not found, "\n".join(found)


LABELS = {
    "QLabel", "QPushButton", "QCheckBox", "QToolButton", "QAction", "setText", "setToolTip", "setWindowTitle",
    "setPlaceholderText", "setStatusTip", "setAccessibleName", "addAction", "addMenu", "setTitle",
}  # fmt: skip


def test_no_label_of_one_word_does_either():
    found = [
        f"{path.relative_to(ROOT)}:{node.lineno}: {word.value!r}"
        for path in sorted((PACKAGE / "ui").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and called(node) in LABELS
        for word in node.args
        if isinstance(word, ast.Constant) and isinstance(word.value, str) and JARGON.search(word.value)
    ]
    assert not found, "\n".join(found)


def test_the_word_check_can_fail():
    bad = "def f():\n    '''A mesh is fine here.'''\n    raise PartError(f'{name}: the mesh is open')\n"
    assert [p.value for p in phrases(ast.parse(bad)) if JARGON.search(p.value)] == [": the mesh is open"]


# --- no check put to sleep ------------------------------------------------------------------------------

ASLEEP = re.compile(r"\bx" r"fail\(|mark\.skip\b|# type: ig" r"nore(?!\[)|except Exception:\s*\n\s*pass\b")


def test_no_check_is_put_to_sleep_and_no_error_swallowed():
    assert not [p for p in tracked() if p.suffix == ".py" and ASLEEP.search(p.read_text(encoding="utf-8"))]
