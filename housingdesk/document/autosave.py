"""A copy of unsaved work, and finding it again after a crash.

recovery/<session>/alive          locked while the session lives; the system frees it when it crashes
recovery/<session>/project.hdesk  the work, replaced in one step each time
recovery/<session>/origin.json    the project it belongs to
"""

from __future__ import annotations

import contextlib
import shutil
import sys
import uuid
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from pydantic import BaseModel, ValidationError

from housingdesk.document.document import Document
from housingdesk.files.atomic import file_errors, replacing
from housingdesk.files.project import save_project
from housingdesk.spec.models import Spec

_LOCK, _PROJECT, _ORIGIN = "alive", "project.hdesk", "origin.json"


class _Origin(BaseModel):
    name: str = "Housing"
    path: str | None = None


@dataclass(frozen=True, slots=True)
class Recovery:
    """Work that a crashed session left.

    Attributes
    ----------
    path : the copy, a project file.
    name : the housing's name.
    origin : the project it was opened from or last saved to, or None.
    saved_at : when the copy was made, local time.
    """

    path: Path
    name: str
    origin: Path | None
    saved_at: datetime


class Autosaver:
    """Keeps the recovery copy of this session.

    Parameters
    ----------
    folder : the user's data folder; all sessions of a user share it.
    """

    def __init__(self, folder: Path) -> None:
        self._root = folder / "recovery"
        self._session = self._root / uuid.uuid4().hex
        self._lock: BinaryIO | None = None
        self._copied: tuple[Spec, Path | None] | None = None

    def save(self, document: Document) -> bool:
        """Copy a document that has unsaved changes; True when a copy was written.

        Unchanged since the last copy: nothing is done.  Saved by the user: the copy goes.

        Raises
        ------
        FileError : the copy cannot be written; the copy before is whole.
        """
        if not document.modified:
            self._remove_copy()
            return False
        state = (document.spec, document.path)
        if state == self._copied:
            return False
        self._begin()
        origin = _Origin(
            name=document.spec.name, path=str(document.path.absolute()) if document.path else None
        )
        with replacing(self._session / _ORIGIN) as stream:
            stream.write(origin.model_dump_json(indent=2).encode())
        save_project(self._session / _PROJECT, document.spec, document.meshes)
        self._copied = state
        return True

    def recoverable(self) -> list[Recovery]:
        """Return what crashed sessions left, newest first; living sessions are not looked at."""
        sessions = [p.parent for p in self._root.glob(f"*/{_PROJECT}")]
        found = []
        for session in sessions:
            if session != self._session and not _is_alive(session):
                with contextlib.suppress(FileNotFoundError):  # another window discarded it just now
                    found.append(_recovery(session))
        return sorted(found, key=lambda r: r.saved_at, reverse=True)

    def discard(self, recovery: Recovery) -> None:
        """Remove what a crashed session left; once it was recovered and saved, or is not wanted."""
        shutil.rmtree(recovery.path.parent, ignore_errors=True)

    def close(self) -> None:
        """End cleanly: nothing is left to recover."""
        if self._lock is not None:
            self._lock.close()
            self._lock = None
        shutil.rmtree(self._session, ignore_errors=True)
        self._copied = None

    def _begin(self) -> None:
        if self._lock is None:
            with file_errors("write to", self._session):
                self._session.mkdir(parents=True, exist_ok=True)
                self._lock = (self._session / _LOCK).open("wb")
                _try_lock(self._lock)

    def _remove_copy(self) -> None:
        if self._copied is not None:
            (self._session / _PROJECT).unlink(missing_ok=True)
            self._copied = None


def recovered(recovery: Recovery) -> Document:
    """Open recovered work: it counts as unsaved, and saving goes to where it came from.

    Let this session's ``Autosaver.save`` copy it before the old copy is discarded.

    Raises
    ------
    FileError, SpecError : the copy cannot be opened; one plain sentence.
    """
    opened = Document.open(recovery.path)
    return Document(opened.spec, opened.meshes, recovery.origin, saved=False)


def _recovery(session: Path) -> Recovery:
    origin = _Origin()
    # The origin only says where to save to; without it the work is still worth having.
    with contextlib.suppress(OSError, ValidationError):
        origin = _Origin.model_validate_json((session / _ORIGIN).read_bytes())
    copy = session / _PROJECT
    return Recovery(
        copy,
        origin.name,
        Path(origin.path) if origin.path else None,
        datetime.fromtimestamp(copy.stat().st_mtime).astimezone(),
    )


def _is_alive(session: Path) -> bool:
    """Whether some process holds the session's lock.  A process id could be another program's by now."""
    try:
        with (session / _LOCK).open("r+b") as file:
            return not _try_lock(file)
    except OSError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _try_lock(file: BinaryIO) -> bool:
        """Lock an open file until it is closed; False when another has it."""
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _try_lock(file: BinaryIO) -> bool:
        """Lock an open file until it is closed; False when another has it."""
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
