from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from housingdesk.errors import FileError, PartError
from housingdesk.files.meshes import read_part
from tests.files.makers import BOX_MM, box_corners, stl, stl_text

BOX_VOLUME = 40.0 * 30.0 * 20.0  # a b c


def save(folder: Path, data: bytes | str, name: str = "block.stl") -> Path:
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


def assert_is_box(path: Path) -> None:
    part = read_part(path)
    assert part.mesh.triangles == 12
    assert len(part.mesh.vertices) == 8
    np.testing.assert_allclose(part.mesh.size_mm, BOX_MM, rtol=1e-7)
    assert part.mesh.volume_mm3 == pytest.approx(BOX_VOLUME, rel=1e-7)
    assert (part.unit, part.unit_origin) == ("mm", "guessed")
    assert part.facts.open_edges == 0
    assert part.facts.notes == ()


TRIMESH_BOX = trimesh.creation.box(BOX_MM)


@pytest.mark.parametrize(
    "data",
    [
        stl(box_corners()),
        stl(box_corners(), header=b"solid but binary all the same"),
        stl(box_corners(), header=b"solid facet vertex".ljust(80, b" ")),
        stl(box_corners()) + b"\n",
        TRIMESH_BOX.export(file_type="stl"),
        TRIMESH_BOX.export(file_type="stl_ascii"),
        stl_text(box_corners()),
        stl_text(box_corners()).upper(),
        stl_text(box_corners()).replace("\n", "\r\n"),
        stl_text(box_corners()).replace("\n", "\r"),
        stl_text(box_corners(), name="vertex of a solid facet"),
        stl_text(box_corners()).replace("facet normal 0 0 0", "facet normal nan -nan(ind) 0"),
        stl_text(box_corners()[:5], "one") + stl_text(box_corners()[5:], "two solid"),
        " \n" + stl_text(box_corners()),
    ],
    ids=[
        "binary", "solid-header", "solid-header-blanks", "trailing-newline", "trimesh", "trimesh-text",
        "text", "upper-case", "crlf", "cr", "keywords-in-name", "bad-normals", "two-solids",
        "leading-blank",
    ],
)  # fmt: skip
def test_every_kind_gives_the_box(data: bytes | str, tmp_path: Path) -> None:
    assert_is_box(save(tmp_path, data))


def test_suffix_in_capitals_and_a_name_with_spaces(tmp_path: Path) -> None:
    part = read_part(save(tmp_path, stl(box_corners()), "Gear motor_µ.STL"))
    assert part.name == "Gear motor µ"
    assert part.source_name == "Gear motor_µ.STL"


def test_far_from_the_origin_nothing_is_lost(tmp_path: Path) -> None:
    # float32 steps at 8192 are 2**-10, so these coordinates are exact
    part = read_part(save(tmp_path, stl(box_corners() + 8192.0)))
    np.testing.assert_array_equal(part.mesh.size_mm, BOX_MM)
    assert part.mesh.volume_mm3 == pytest.approx(BOX_VOLUME, rel=1e-12)
    assert part.facts.open_edges == 0


def with_coordinate(value: float) -> np.ndarray:
    corners = box_corners().copy()
    corners[3, 1, 2] = value
    return corners


FLAT = np.repeat(np.array([[[0.0, 0, 0], [10, 0, 0], [20, 0, 0]]]), 6, axis=0)
SHEET = np.array([[[0.0, 0, 0], [10, 0, 0], [10, 10, 0]], [[0, 0, 0], [10, 10, 0], [0, 10, 0]]])
TILT = trimesh.transformations.rotation_matrix(0.7, [1, 2, 3])[:3, :3]

BAD = {
    "empty": (b"", FileError, "empty"),
    "text": (b"Dear printer, please make me a motor housing.\n" * 9, FileError, "not an STL"),
    "short-text": (b"hello", FileError, "not an STL"),
    "html": (b"<!doctype html><html><body>404 solid</body></html>" * 4, FileError, "not an STL"),
    "header-only": (b"\0" * 60, FileError, "not an STL"),
    "truncated": (stl(box_corners())[:-70], FileError, "cut off: it promises 12 triangles and holds 10"),
    "truncated-solid": (stl(box_corners(), b"solid x")[:-70], FileError, "cut off: it promises 12"),
    "four-billion": (stl(box_corners(), count=2**32 - 1), FileError, "promises 4,294,967,295 triangles"),
    "says-too-few": (stl(box_corners(), count=7), FileError, "more triangles than it says"),
    "zero-binary": (stl(box_corners()[:0]), FileError, "no triangles"),
    "zero-text": (b"solid nothing\nendsolid nothing\n", FileError, "no triangles"),
    "nan": (stl(with_coordinate(np.nan)), FileError, "no usable numbers"),
    "infinite": (stl(with_coordinate(np.inf)), FileError, "no usable numbers"),
    "huge": (stl(with_coordinate(1e30)), FileError, "no usable numbers"),
    "signalling-nan": (
        stl(box_corners())[:96] + b"\0\0\x81\x7f" + stl(box_corners())[100:],
        FileError,
        "no usable",
    ),
    "nan-text": (stl_text(with_coordinate(np.nan)).encode(), FileError, "no usable numbers"),
    "flat": (stl(FLAT), PartError, "flat lines"),
    "points": (stl(FLAT * 0), PartError, "flat lines"),
    "sheet": (stl(SHEET), PartError, "without thickness"),
    "tilted-sheet": (stl(SHEET @ TILT.T), PartError, "without thickness"),
    "text-cut": (stl_text(box_corners())[:700].encode(), FileError, "cut off"),
    "text-facet-lost": (
        stl_text(box_corners()).replace("endfacet", "", 1).encode(),
        FileError,
        "not complete",
    ),
    "text-word": (
        stl_text(box_corners()).replace("vertex 20", "vertex two", 1).encode(),
        FileError,
        "not an STL",
    ),
    "text-two-numbers": (
        stl_text(box_corners()).replace("vertex 20 ", "vertex ", 1).encode(),
        FileError,
        "not an",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_files_are_refused_with_one_sentence(case: str, tmp_path: Path) -> None:
    data, kind, words = BAD[case]
    with pytest.raises(kind) as caught:
        read_part(save(tmp_path, data))
    text = str(caught.value)
    assert words in text
    assert "block.stl" in text
    assert "\n" not in text
    assert text.endswith(".")


def test_missing_file_folder_and_unknown_kind(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="does not exist"):
        read_part(tmp_path / "nowhere.stl")
    folder = tmp_path / "folder.stl"
    folder.mkdir()
    with pytest.raises(FileError, match="is a folder"):
        read_part(folder)
    with pytest.raises(FileError, match=r"no kind that can be opened.*\.stl"):
        read_part(save(tmp_path, b"x", "letter.docx"))
    with pytest.raises(FileError, match="No file can have this name"):
        read_part(tmp_path / "a\0b.stl")


def test_unit_given_is_kept_and_an_absurd_one_is_refused(tmp_path: Path) -> None:
    path = save(tmp_path, stl(box_corners()))
    part = read_part(path, unit="cm")
    assert (part.unit, part.unit_origin) == ("cm", "given")
    np.testing.assert_allclose(part.mesh.size_mm, BOX_MM)  # the mesh stays in file units
    with pytest.raises(PartError, match="millimetres"):
        read_part(path, unit="m")


def test_progress_is_told_and_may_stop_the_work(tmp_path: Path) -> None:
    path = save(tmp_path, stl(box_corners()))
    told: list[tuple[str, float | None]] = []
    read_part(path, progress=lambda phrase, share: told.append((phrase, share)))
    shares = [share for _, share in told if share is not None]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    class Stop(Exception):  # noqa: N818
        pass

    def stop(phrase: str, share: float | None) -> None:
        raise Stop

    with pytest.raises(Stop):
        read_part(path, progress=stop)
