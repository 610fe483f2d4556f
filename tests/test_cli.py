"""The command line as its user meets it: what it writes, what it says, and its exit codes."""

from __future__ import annotations

import errno
import json
import math
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh

from housingdesk.__main__ import main as entry
from housingdesk.cli import MADE, NOT_MADE, main
from housingdesk.features.screw_words import HOLD_WORDS
from housingdesk.files.write import write_stl
from housingdesk.geometry.solid import Solid
from housingdesk.geometry.types import Mesh
from tests.features.slices import free_radius

CONTRACT = {
    "parting_z_mm", "clearance_mm", "wall_mm", "min_gap_mm", "parts", "halves", "relief_mm3", "contacts",
    "findings", "versions", "zones", "going_in", "play", "passages", "fasteners", "openings", "joints",
}  # fmt: skip


def geared() -> Mesh:
    """Return a 24 x 18 x 14 box with a 5 mm shaft, 10 mm long, out of its front."""
    box = Solid.box(np.array([-12.0, -9.0, -7.0]), np.array([12.0, 9.0, 7.0]))
    return (box | Solid.rod((3, -8, 0), (3, -19, 0), 2.5)).mesh()


@pytest.fixture(scope="module")
def part(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("part") / "geared.stl"
    write_stl(path, geared(), "geared")
    return path


def make(part: Path, out: Path, *more: str) -> int:
    return main(["make", str(part), "--out", str(out), *more])


def proof_of(out: Path) -> dict[str, object]:
    loaded: dict[str, object] = json.loads((out / "proof.json").read_text(encoding="utf-8"))
    return loaded


def test_a_bare_part_gives_a_proved_housing_with_the_shafts_way_out(
    part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert make(part, tmp_path, "--pose", "assembled", "--clearance", "0.6", "--zone", "shaft=0.4") == MADE
    said = capsys.readouterr().out
    assert "a guess" in said  # an STL says no unit
    proof = proof_of(tmp_path)
    assert set(proof) >= CONTRACT
    assert proof["clearance_mm"] == 0.4
    assert {z["name"]: z["clearance_mm"] for z in proof["zones"]} == {"body": 0.6, "shaft": 0.4}  # type: ignore[attr-defined]
    (way,) = proof["passages"]  # type: ignore[misc]
    assert way["axis"] == pytest.approx([0, -1, 0], abs=1e-6)
    lower = trimesh.load(tmp_path / "lower.stl")
    upper = trimesh.load(tmp_path / "upper.stl")
    assert lower.is_watertight and upper.is_watertight
    # As measured on the halves, whose rounds are a hair larger than drawn.
    sliced = 2 * free_radius((lower, upper), way["centre_mm"], way["axis"], 0.65)
    assert way["diameter_mm"] == pytest.approx(sliced, abs=1e-3)
    assert 5.8 - 1e-6 <= way["diameter_mm"] <= 5.8 + 2 * 0.012
    # 24 x 18 x 14 with 0.6 mm and a wall of 2.4 mm all round: 30 x 24 x 20.
    both = np.array([lower.bounds, upper.bounds])
    assert both[:, 1].max(axis=0) - both[:, 0].min(axis=0) == pytest.approx([30, 24, 20], abs=0.05)
    # The mouth of the way out, cut by a plane in front of the box: a hole of 5.8 mm, half in each half.
    y = float(way["centre_mm"][1]) + 1.2
    area = sum(_section_area(half, y) for half in (lower, upper))
    assert area == pytest.approx(30 * 20 - math.pi * 2.9**2, rel=5e-3)


def _section_area(half: trimesh.Trimesh, y_mm: float) -> float:
    """Return the area of a cut across y, from the volume of a thin slice (manifold3d)."""
    half.merge_vertices()
    slab = Solid.box(np.array([-99, y_mm - 0.05, -99]), np.array([99, y_mm + 0.05, 99]))
    return (Solid.from_mesh(Mesh(half.vertices, half.faces)) & slab).volume_mm3 / 0.1


def test_the_plane_can_be_given_in_the_parts_own_frame(part: Path, tmp_path: Path) -> None:
    assert make(part, tmp_path, "--pull", "z", "--parting", "-1.5") == MADE
    assert proof_of(tmp_path)["parting_z_mm"] == pytest.approx(5.5)


def test_one_clearance_asked_for_is_kept_everywhere(part: Path, tmp_path: Path) -> None:
    assert make(part, tmp_path, "--clearance", "1.2") == MADE
    proof = proof_of(tmp_path)
    assert proof["clearance_mm"] == 1.2
    assert proof["min_gap_mm"] >= 1.19  # type: ignore[operator]


def _binary(triangles: np.ndarray, count: int | None = None) -> bytes:
    head = b"\0" * 80 + struct.pack("<I", len(triangles) if count is None else count)
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *t.ravel().tolist(), 0) for t in triangles)
    return head + body


TRIS = geared().vertices[geared().faces]
NANS = TRIS.copy()
NANS[0, 0, 0] = math.nan
FLAT = TRIS.copy()
FLAT[:] = FLAT[:, :1]
SHEET = TRIS * np.array([1.0, 1.0, 0.0])

BAD: dict[str, tuple[str, bytes]] = {
    "empty": ("a.stl", b""),
    "truncated": ("a.stl", _binary(TRIS)[:-70]),
    "text": ("a.stl", b"Dear all,\nplease find attached nothing at all.\n" * 9),
    "nan": ("a.stl", _binary(NANS)),
    "no triangles": ("a.stl", _binary(TRIS[:0])),
    "all triangles flat": ("a.stl", _binary(FLAT)),
    "no thickness": ("a.stl", _binary(SHEET)),
    "four billion": ("a.stl", _binary(TRIS[:1], 4_000_000_000)),
    "5 m": ("a.stl", _binary(TRIS * 210)),
    "0.05 mm": ("a.stl", _binary(TRIS * 0.0015)),
    "half a project": ("project.json", b'{"format": "housing desk project", "version": 1, "spec": {"na'),
    "newer project": ("project.json", b'{"format": "housing desk project", "version": 99, "spec": {}}'),
    "project of a wrong type": ("project.json", b"[1, 2]"),
    "unknown kind": ("a.doc", b"x"),
}


def refused(capsys: pytest.CaptureFixture[str], run: Callable[[], int]) -> str:
    """Run, expect a refusal in one line without a traceback, and return it."""
    assert run() == NOT_MADE
    told = capsys.readouterr().err.strip().splitlines()
    assert len(told) == 1
    assert told[0].startswith("housingdesk: ")
    assert told[0].endswith(".")
    assert "Traceback" not in told[0] and "Error" not in told[0]
    return told[0]


@pytest.mark.parametrize("case", BAD)
def test_bad_files_are_refused_with_a_sentence_and_nothing_is_written(
    case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name, content = BAD[case]
    bad, out = tmp_path / name, tmp_path / "out"
    bad.write_bytes(content)
    options = ("--unit", "mm") if case in ("5 m", "0.05 mm") else ()
    refused(capsys, lambda: make(bad, out, *options))
    assert not out.exists()


@pytest.mark.parametrize(
    "options",
    [
        ("--clearance", "-1"),
        ("--clearance", "nan"),
        ("--clearance", "900"),
        ("--wall", "0"),
        ("--wall", "inf"),
        ("--wall", "-2"),
        ("--parting", "100"),
        ("--parting", "soon"),
        ("--pull", "up"),
        ("--zone", "shaft"),
        ("--zone", "shaft=wide"),
        ("--zone", "shaft=-1"),
        ("--zone", "handle=1"),
        ("--screws", "M99"),
        ("--pose", "upright"),
    ],
    ids=" ".join,
)
def test_bad_wishes_are_refused_with_a_sentence(
    options: tuple[str, ...], part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    refused(capsys, lambda: make(part, out, *options))
    assert not out.exists()


def test_a_missing_file_and_an_unsafe_archive_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    refused(capsys, lambda: make(tmp_path / "none.stl", tmp_path / "out"))
    climbing = tmp_path / "p.hdesk"
    with zipfile.ZipFile(climbing, "w") as archive:
        archive.writestr("../evil.txt", "x")
        archive.writestr("project.json", "{}")
    refused(capsys, lambda: make(climbing, tmp_path / "out"))
    assert not (tmp_path.parent / "evil.txt").exists()


def test_a_folder_that_cannot_be_written_leaves_nothing(
    part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way", encoding="utf-8")
    refused(capsys, lambda: make(part, blocked / "out"))
    assert blocked.read_text(encoding="utf-8") == "in the way"


def test_measure_reads_the_shaft_like_calipers(part: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", str(part), "--unit", "mm", "--json"]) == MADE
    report = json.loads(capsys.readouterr().out)
    assert report["size_mm"] == pytest.approx([24, 28, 14], abs=0.01)
    (shaft,) = [c for c in report["cylinders"] if c["side"] == "outside"]
    assert shaft["diameter_mm"] == pytest.approx(5.0, abs=0.01)
    assert abs(shaft["axis"][1]) == pytest.approx(1.0, abs=1e-6)


def test_what_is_printed_is_what_is_used(
    part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert make(part, tmp_path, "--zone", "shaft=0,4", "--clearance", "0.6mm") == MADE
    said = capsys.readouterr().out
    assert "0.4 mm around it" in said and "0.6 mm around it" not in said
    assert proof_of(tmp_path)["clearance_mm"] == 0.4
    assert "lifting along z. On the axis of the shaft" in said
    written = int.from_bytes((tmp_path / "lower.stl").read_bytes()[80:84], "little")
    assert proof_of(tmp_path)["halves"]["lower"]["triangles"] == written  # type: ignore[index]


def test_the_way_the_upper_half_lifts_is_always_said(
    part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for options, words in (
        (("--parting", "-1.5"), "Parted 5.50 mm up, lifting along z. --parting is along z where"),
        (("--pull", "x", "--parting", "-1.5"), "Parted 10.50 mm up, lifting along x.\n"),
    ):
        assert make(part, tmp_path, *options) == MADE
        assert words in capsys.readouterr().out


def test_what_is_neither_a_command_nor_a_file_opens_no_window(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    told = refused(capsys, lambda: entry(["frobnicate"]))
    assert "frobnicate" in told and "make, prove, measure" in told


def test_a_folder_that_cannot_be_made_is_told_so(
    part: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def nowhere(*_: object, **__: object) -> str:
        raise FileNotFoundError(errno.ENOENT, "no such thing")  # as /proc says

    monkeypatch.setattr("tempfile.mkdtemp", nowhere)
    told = refused(capsys, lambda: make(part, tmp_path / "out"))
    assert "no folder can be made there" in told and "does not exist" not in told


def test_every_hold_of_screws_is_in_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["make", "--help"])
    said = capsys.readouterr().out
    assert [word for word in HOLD_WORDS if word not in said.split("--screws", 2)[2]] == []


def test_measure_says_a_guessed_unit_and_lists_all_on_wish(
    part: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("housingdesk.deliver.caliper.LINES", 2)
    assert main(["measure", str(part)]) == MADE
    said = capsys.readouterr().out
    assert "geared.stl: 24.00 x 28.00 x 14.00 mm, read as mm (a guess" in said
    assert "smaller; --all lists them" in said
    assert main(["measure", str(part), "--all", "--unit", "mm"]) == MADE
    said = capsys.readouterr().out
    assert "(as asked)" in said and "smaller" not in said
