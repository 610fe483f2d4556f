"""What can be opened: recent files, samples, and what a crash left behind; and the user's printer."""

from __future__ import annotations

from pathlib import Path

from housingdesk.document.autosave import Autosaver, Recovery, recovered
from housingdesk.document.document import Document
from housingdesk.document.printers import OwnPrinter
from housingdesk.document.recent import Kind, Recent
from housingdesk.files.meshstore import MeshStore
from housingdesk.files.places import samples_dir
from housingdesk.files.project import is_project
from housingdesk.geometry.types import Mesh

_MOST_RECENT = 5
_ABOUT = "about.txt"


class Library:
    """Opens documents from disk and keeps the copies that survive a crash.

    The methods that open or copy take their time and are meant for a thread beside the window's.

    Parameters
    ----------
    data : the user's data folder.
    store : where the worker finds the meshes of what is opened.
    """

    def __init__(self, data: Path, store: MeshStore) -> None:
        self._recent = Recent(data)
        self.printer = OwnPrinter(data)
        self._store = store
        self.autosaver = Autosaver(data)

    def open(self, path: Path) -> Document:
        """Open a project; one that came with the program is opened as a copy that has no place yet.

        Raises
        ------
        FileError, SpecError : it cannot be opened; one plain sentence.
        """
        document = self._kept(Document.open(path))
        return Document(document.spec, document.meshes) if is_sample(path) else document

    def open_recovery(self, recovery: Recovery) -> Document:
        """Open what a crashed session left; it counts as unsaved.

        Raises
        ------
        FileError, SpecError : it cannot be opened; one plain sentence.
        """
        return self._kept(recovered(recovery))

    def remember(self, kind: Kind, path: Path) -> None:
        """Put a file first among the recent ones; samples have their own place."""
        if not is_sample(path):
            self._recent.add(kind, path)

    def recent(self) -> list[Path]:
        """Return the projects and parts opened last."""
        return [*self._recent.projects, *self._recent.parts][:_MOST_RECENT]

    def samples(self) -> list[tuple[Path, str]]:
        """Return the sample projects that came with the program, each with a line about it."""
        folder = samples_dir()
        found = sorted(p for p in folder.iterdir() if is_project(p)) if folder.is_dir() else []
        return [(path, _about(path)) for path in found]

    def recoveries(self) -> list[tuple[str, Recovery]]:
        """Return what crashed sessions left, each with words about it."""
        found = self.autosaver.recoverable()
        return [(f"“{r.name}” was not saved, {r.saved_at:%d %b, %H:%M}", r) for r in found]

    def keep(self, mesh: Mesh) -> None:
        """Put a mesh where the worker finds it.

        Raises
        ------
        FileError : the folder cannot be written.
        """
        self._store.put(mesh)

    def _kept(self, document: Document) -> Document:
        for mesh in document.meshes.values():
            self.keep(mesh)
        return document


def _about(sample: Path) -> str:
    """Return the line beside a sample that says what it is of."""
    try:
        return (sample / _ABOUT).read_text("utf-8").strip()
    except OSError:
        return "sample project"


def is_sample(path: Path) -> bool:
    """Whether a path lies among the samples that came with the program."""
    return samples_dir().resolve() in path.resolve().parents
