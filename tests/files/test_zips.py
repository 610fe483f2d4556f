"""What is said of archives that cannot be read, and what is left to be seen as a bug."""

import zipfile
from pathlib import Path

import pytest

from housingdesk.errors import FileError
from housingdesk.files.zips import open_zip, read_entry


def _archive(folder: Path, text: bytes = b"some words, and some more") -> Path:
    path = folder / "work.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("words", text)
    return path


def test_a_damaged_entry_is_told_when_it_is_read(tmp_path: Path) -> None:
    path = _archive(tmp_path)
    data = bytearray(path.read_bytes())
    data[30 + len("words") + 3] ^= 0xFF  # within the packed text, after the local header (APPNOTE 4.3.7)
    path.write_bytes(data)
    with open_zip(path) as archive, pytest.raises(FileError, match="damaged"):
        read_entry(archive, "words", 1000)


def test_a_compression_that_nobody_knows_is_told_as_damage(tmp_path: Path) -> None:
    path = _archive(tmp_path)
    data = path.read_bytes().replace(b"\x08\x00", b"\x63\x00")  # method 8, deflate, to one that there is not
    path.write_bytes(data)
    with open_zip(path) as archive, pytest.raises(FileError, match="damaged"):
        read_entry(archive, "words", 1000)


@pytest.mark.parametrize("bug", [NotImplementedError, EOFError, RuntimeError])
def test_what_goes_wrong_in_our_own_work_on_an_archive_is_no_damage(
    tmp_path: Path, bug: type[Exception]
) -> None:
    with pytest.raises(bug), open_zip(_archive(tmp_path)):
        raise bug
