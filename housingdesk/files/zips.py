"""Zip archives that cannot harm: no names that climb out, no flood of data."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from housingdesk.errors import FileError
from housingdesk.files.atomic import file_errors

# Deflate reaches 1032:1 on zeros (zlib.net, "Maximum Compression Factor"); text of coordinates stays
# under about 20:1, so 200:1 is nobody's part.  Small archives are left alone.
MAX_RATIO = 200
SMALL_BYTES = 1 << 20
MAX_ENTRIES = 10_000


@contextmanager
def open_zip(path: Path) -> Iterator[zipfile.ZipFile]:
    """Open an archive after looking at its table of contents.

    Raises
    ------
    FileError : not a zip, a name that leads out of the archive, or far more data than the file's size.
    """
    with file_errors("read", path):
        with _told(path):
            archive = zipfile.ZipFile(path)
        with archive:
            _check(archive, path)
            yield archive


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn what the library raises for a damaged or locked archive into a sentence.

    Only its own calls stand within: elsewhere the same errors would be bugs of ours.
    """
    try:
        yield
    # NotImplementedError is for a compression that the library does not know.
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, UnicodeDecodeError) as error:
        raise FileError(
            f"{path.name} is damaged: it cannot be unpacked; get it again from where it came."
        ) from error
    except RuntimeError as error:  # what zipfile raises for an encrypted entry
        if "encrypted" not in str(error) and "password" not in str(error):
            raise
        raise FileError(f"{path.name} is locked with a password; save it again without one.") from error


def read_entry(archive: zipfile.ZipFile, entry: str, limit_bytes: int) -> bytes:
    """Read one entry, never more than ``limit_bytes``.

    Raises
    ------
    KeyError : there is no such entry.
    FileError : it is damaged or locked, or larger than it may be.
    """
    path = Path(archive.filename or "The archive")
    with _told(path), archive.open(entry) as stream:
        data = stream.read(limit_bytes + 1)
    if len(data) > limit_bytes:
        raise FileError(
            f"{path.name} unpacks to far more than it should; get it again from a source you trust."
        )
    return data


def _check(archive: zipfile.ZipFile, path: Path) -> None:
    entries = archive.infolist()
    for entry in entries:
        inside = PurePosixPath(entry.filename.replace("\\", "/"))
        if inside.is_absolute() or ".." in inside.parts or any(":" in part for part in inside.parts):
            raise FileError(
                f"{path.name} holds a file whose name leads out of its folder ({entry.filename!r}); "
                "it was not opened, get it from a source you trust."
            )
    unpacked = sum(e.file_size for e in entries)
    if len(entries) > MAX_ENTRIES or unpacked > max(SMALL_BYTES, MAX_RATIO * path.stat().st_size):
        raise FileError(
            f"{path.name} unpacks to far more than its size ({unpacked / 1e6:.0f} MB); "
            "it was not opened, get it from a source you trust."
        )
