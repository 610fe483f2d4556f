"""The files that were opened last."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ValidationError

from housingdesk.errors import FileError
from housingdesk.files.atomic import file_errors, replacing

KEEP = 10
Kind = Literal["projects", "parts"]


class _Lists(BaseModel):
    projects: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()


class Recent:
    """Recent projects and parts, newest first, in one file of the user's data folder.

    Every call reads the file anew, so that two windows do not overwrite each other's entries.  A missing
    or broken file is an empty list, and one that cannot be written is left: nobody's work hangs on it.
    """

    def __init__(self, folder: Path) -> None:
        self._file = folder / "recent.json"

    @property
    def projects(self) -> tuple[Path, ...]:
        """Recent projects that still exist, newest first."""
        return _existing(self._read().projects)

    @property
    def parts(self) -> tuple[Path, ...]:
        """Recent part files that still exist, newest first."""
        return _existing(self._read().parts)

    def add(self, kind: Kind, path: Path) -> None:
        """Put a file first in its list."""
        new = str(path.absolute())
        lists = self._read()
        others = [p for p in getattr(lists, kind) if p != new]
        self._write(lists.model_copy(update={kind: (new, *others)[:KEEP]}))

    def forget(self, path: Path) -> None:
        """Take a file out of both lists."""
        gone = str(path.absolute())
        lists = self._read()
        self._write(
            _Lists(
                projects=tuple(p for p in lists.projects if p != gone),
                parts=tuple(p for p in lists.parts if p != gone),
            )
        )

    def _read(self) -> _Lists:
        try:
            return _Lists.model_validate_json(self._file.read_bytes())
        except (OSError, ValidationError):
            return _Lists()

    def _write(self, lists: _Lists) -> None:
        with contextlib.suppress(FileError):
            with file_errors("write to", self._file.parent):
                self._file.parent.mkdir(parents=True, exist_ok=True)
            with replacing(self._file) as stream:
                stream.write(json.dumps(lists.model_dump(), indent=2).encode())


def _existing(paths: tuple[str, ...]) -> tuple[Path, ...]:
    return tuple(p for p in map(Path, paths) if _exists(p))


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):  # a name too long, or with a NUL: not written by us
        return False
