"""Where a file or a folder is: the system's own dialogs."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from housingdesk.files.meshes import part_suffixes
from housingdesk.files.project import SUFFIX


def ask_part(parent: QWidget, folder: str, title: str) -> Path | None:
    """Ask for a part's file."""
    kinds = " ".join(f"*{s} *{s.upper()}" for s in part_suffixes())
    name, _ = QFileDialog.getOpenFileName(parent, title, folder, f"Parts ({kinds});;All files (*)")
    return Path(name) if name else None


def ask_project(parent: QWidget, folder: str) -> Path | None:
    """Ask for a project file, or the ``project.json`` of a project folder."""
    kinds = f"Projects (*{SUFFIX} project.json);;All files (*)"
    name, _ = QFileDialog.getOpenFileName(parent, "Open a project", folder, kinds)
    return Path(name) if name else None


def ask_save_path(parent: QWidget, folder: str, name: str) -> Path | None:
    """Ask where to save a project; the ending is added where it is missing."""
    suggestion = str(Path(folder) / f"{name}{SUFFIX}")
    chosen, _ = QFileDialog.getSaveFileName(parent, "Save the project", suggestion, f"Project (*{SUFFIX})")
    if not chosen:
        return None
    path = Path(chosen)
    return path if path.suffix.lower() == SUFFIX else path.with_name(path.name + SUFFIX)
