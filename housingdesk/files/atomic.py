"""Writing so that a crash or a full disk leaves what was there before."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from housingdesk.errors import FileError

_SENTENCES = {
    errno.ENOSPC: "the disk is full; free some space or choose another place",
    errno.EDQUOT: "your share of the disk is used up; free some space or choose another place",
    errno.EFBIG: "the disk takes no file of this size; choose another place",
    errno.EACCES: "you have no permission there; choose another place",
    errno.EPERM: "you have no permission there; choose another place",
    errno.EROFS: "it is on a disk that cannot be written to; choose another place",
    errno.ENOENT: "it does not exist; check the name",
    errno.ENOTDIR: "a part of its path is a file and not a folder; choose another place",
    errno.EEXIST: "a part of its path is a file and not a folder; choose another place",
    errno.EISDIR: "it is a folder and not a file; choose a file",
    errno.ENAMETOOLONG: "its name is too long; choose a shorter one",
}


def file_error(error: OSError, verb: str, path: Path, absent: str = _SENTENCES[errno.ENOENT]) -> FileError:
    """Turn the system's error into one sentence, such as "Cannot write out: the disk is full; ...".

    Parameters
    ----------
    absent : what to say where something is not there.
    """
    known = {**_SENTENCES, errno.ENOENT: absent}
    why = known.get(error.errno or 0, f"{error.strerror or error}; choose another place")
    return FileError(f"Cannot {verb} {path}: {why}.")


@contextlib.contextmanager
def file_errors(verb: str, path: Path, absent: str = _SENTENCES[errno.ENOENT]) -> Iterator[None]:
    """Turn every ``OSError`` inside into a ``FileError`` about ``path``; ``absent`` as in `file_error`."""
    try:
        yield
    except OSError as error:
        raise file_error(error, verb, path, absent) from error
    except ValueError as error:
        if "null" in str(error):  # what the system calls say to a name with a NUL inside
            raise FileError("No file can have this name; check it.") from error
        raise


@contextlib.contextmanager
def replacing(path: Path) -> Iterator[BinaryIO]:
    """Open a temporary file beside ``path`` that takes its place when the block ends well.

    Raises
    ------
    FileError : when it cannot be written; ``path`` is then as it was.
    """
    with file_errors("write", path):
        handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
        staged = Path(name)
        try:
            with os.fdopen(handle, "wb") as stream:
                yield stream
            _sync(staged)
            staged.chmod(0o666 & ~_umask())
            staged.replace(path)
        finally:
            staged.unlink(missing_ok=True)
        _sync_folder(path.parent)


@contextlib.contextmanager
def staged_folder(target: Path, *, replace: bool = True) -> Iterator[Path]:
    """Collect files in a temporary folder and move them into ``target`` when all are there.

    Other files in ``target`` are never touched.  Files of the same name are replaced, each in one step, and
    put back if a later one cannot be; ``target`` is created when it is missing, and only on success.

    Parameters
    ----------
    replace : whether files of the same name may be replaced.

    Yields
    ------
    The folder to write into, on the same disk as ``target``.

    Raises
    ------
    FileError : when ``target`` cannot be written, or holds one of the files and may not be touched; it is
        then as it was.
    """
    with file_errors("write to", target, absent="no folder can be made there; choose another place"):
        if target.exists() and not target.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, "not a folder")
        near = next(p for p in (target, *target.absolute().parents) if p.exists())
        staged = Path(tempfile.mkdtemp(prefix=".housing-", dir=near))
        try:
            yield staged
            files = sorted(p for p in staged.iterdir())
            for file in files:
                _sync(file)
                if (target / file.name).is_dir():
                    raise FileError(f"Cannot write {target / file.name}: a folder has that name; rename it.")
                if not replace and os.path.lexists(target / file.name):
                    raise FileError(f"{target / file.name} is there already; choose another folder.")
            target.mkdir(parents=True, exist_ok=True)
            _move_all(files, target)
            _sync_folder(target)
        finally:
            shutil.rmtree(staged, ignore_errors=True)


def _move_all(files: list[Path], target: Path) -> None:
    """Move files into a folder; when one cannot be moved, those it held are put back."""
    kept = Path(tempfile.mkdtemp(dir=files[0].parent)) if files else target
    moved: list[Path] = []
    try:
        for file in files:
            place = target / file.name
            if place.exists():
                shutil.copy2(place, kept / file.name)
            file.replace(place)
            moved.append(place)
    except BaseException:
        for place in moved:
            old = kept / place.name
            with contextlib.suppress(OSError):  # the first refusal is the one to tell
                if old.exists():
                    old.replace(place)
                else:
                    place.unlink()
        raise


def _sync(file: Path) -> None:
    """Have the system put a written file on the disk; a disk that is full may say so only now."""
    with file.open("rb+") as stream:
        os.fsync(stream.fileno())


def _umask() -> int:
    """Return the umask; it can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """Make the renames in a folder last through a power cut, where the system can."""
    with contextlib.suppress(OSError):  # not every system lets a folder be opened
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
