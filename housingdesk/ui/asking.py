"""Where a file or a folder is: the system's own dialogs."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from housingdesk.files.meshes import part_suffixes
from housingdesk.files.project import SUFFIX


def _begin(folder: str) -> str:
    """Return where a dialog begins: a folder that is gone would stand there as the name of a file."""
    return str(next((p for p in (Path(folder), *Path(folder).parents) if p.is_dir()), Path.home()))


def ask_part(parent: QWidget, folder: str, title: str) -> Path | None:
    """Ask for a part's file."""
    name, _ = _open(parent, title, folder, part_filter())
    return Path(name) if name else None


def part_filter() -> str:
    """Return the kinds of a part's file: each once in words, its ending in both cases (some systems care)."""
    words = ", ".join(s[1:].upper() for s in part_suffixes())
    kinds = " ".join(f"*{s} *{s.upper()}" for s in part_suffixes())
    return f"Parts: {words} ({kinds});;All files (*)"


def _open(parent: QWidget, title: str, folder: str, kinds: str) -> tuple[str, str]:
    # Without its details a filter shows its words alone, not every ending in both cases.
    option = QFileDialog.Option.HideNameFilterDetails
    return QFileDialog.getOpenFileName(parent, title, _begin(folder), kinds, "", option)


def ask_project(parent: QWidget, folder: str) -> Path | None:
    """Ask for a project file, or the ``project.json`` of a project folder."""
    kinds = f"Projects: {SUFFIX} or project.json (*{SUFFIX} project.json);;All files (*)"
    name, _ = _open(parent, "Open a project", folder, kinds)
    return Path(name) if name else None


def ask_save_path(parent: QWidget, folder: str, name: str) -> Path | None:
    """Ask where to save a project; the ending is added where it is missing."""
    suggestion = str(Path(_begin(folder)) / f"{name}{SUFFIX}")
    chosen, _ = QFileDialog.getSaveFileName(parent, "Save the project", suggestion, f"Project (*{SUFFIX})")
    if not chosen:
        return None
    path = Path(chosen)
    return path if path.suffix.lower() == SUFFIX else path.with_name(path.name + SUFFIX)
