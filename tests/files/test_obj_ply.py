"""OBJ and PLY, against trimesh's writers and closed forms."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from housingdesk.errors import FileError
from housingdesk.files.meshes import read_part
from housingdesk.files.readers.ply import parse
from tests.files.makers import BOX_MM

BOX_VOLUME = 40.0 * 30.0 * 20.0
TRIMESH_BOX = trimesh.creation.box(BOX_MM)

# An L-shaped bar: a square of 20 less its upper right quarter, 10 long.  Its ends are dented polygons.
L_POINTS = [(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)]
L_VOLUME = (20 * 20 - 10 * 10) * 10.0
L_AREA = 2 * 300.0 + 80.0 * 10.0


def l_bar(start: int) -> tuple[list[tuple[float, float, float]], list[list[int]]]:
    """The bar with its outlines beginning at corner ``start``, faces as polygons, zero-based."""
    outline = L_POINTS[start:] + L_POINTS[:start]
    points = [(x, y, z) for z in (0.0, 10.0) for x, y in outline]
    sides = [[i, (i + 1) % 6, (i + 1) % 6 + 6, i + 6] for i in range(6)]
    return points, [list(range(5, -1, -1)), list(range(6, 12)), *sides]


def save(folder: Path, name: str, data: bytes | str) -> Path:
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


def obj(points: list[tuple[float, float, float]], faces: list[list[int]], *, negative: bool = False) -> str:
    lines = [f"v {x} {y} {z}" for x, y, z in points]
    shift = -len(points) if negative else 1
    lines += ["f " + " ".join(str(i + shift) for i in face) for face in faces]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("negative", [False, True])
@pytest.mark.parametrize("start", range(6))
def test_dented_polygons_cover_just_themselves(start: int, negative: bool, tmp_path: Path) -> None:
    mesh = read_part(save(tmp_path, "bar.obj", obj(*l_bar(start), negative=negative))).mesh
    outside = trimesh.Trimesh(mesh.vertices, mesh.faces)
    assert outside.is_volume
    assert outside.volume == pytest.approx(L_VOLUME, rel=1e-12)
    assert outside.area == pytest.approx(L_AREA, rel=1e-12)  # a fan over the dent would be larger


@pytest.mark.parametrize("axis", range(3))
@pytest.mark.parametrize("sign", [1, -1])
def test_dented_polygons_in_every_plane(axis: int, sign: int, tmp_path: Path) -> None:
    points, faces = l_bar(3)
    turned = [tuple(np.roll(p, axis) * sign) for p in points]
    faces = faces if sign > 0 else [f[::-1] for f in faces]
    mesh = read_part(save(tmp_path, "bar.obj", obj(turned, faces))).mesh
    assert mesh.volume_mm3 == pytest.approx(L_VOLUME, rel=1e-12)
    assert trimesh.Trimesh(mesh.vertices, mesh.faces).area == pytest.approx(L_AREA, rel=1e-12)


def test_obj_of_several_objects_with_everything_else_in_between(tmp_path: Path) -> None:
    text = TRIMESH_BOX.export(file_type="obj", include_normals=False)
    first = "# a comment\nmtllib none.mtl\no one\nvn 0 0 1\nvt 0.5 0.5\ng a b\ns off\nusemtl steel\n" + text
    moved = TRIMESH_BOX.copy().apply_translation([100, 0, 0])
    second = "\no two\n" + obj([tuple(v) for v in moved.vertices], moved.faces.tolist(), negative=True)
    part = read_part(save(tmp_path, "two.obj", first + second))
    assert part.facts.bodies == 2
    assert part.mesh.triangles == 24
    assert part.mesh.volume_mm3 == pytest.approx(2 * BOX_VOLUME, rel=1e-9)


@pytest.mark.parametrize("corner", ["{}/{}", "{}//{}", "{}/{}/{}"])
def test_obj_corners_with_texture_and_normal_numbers(corner: str, tmp_path: Path) -> None:
    points, faces = l_bar(0)
    lines = [f"v {x} {y} {z} 0.5 0.5 0.5" for x, y, z in points]
    lines += ["f " + " ".join(corner.format(i + 1, 77, 99) for i in face) for face in faces]
    mesh = read_part(save(tmp_path, "bar.obj", "\r\n".join(lines))).mesh
    assert mesh.volume_mm3 == pytest.approx(L_VOLUME, rel=1e-12)


def test_obj_lines_continued_by_a_backslash(tmp_path: Path) -> None:
    text = obj(*l_bar(0)).replace("f 1 2 8 7", "f 1 2 \\\n8 7")
    assert "\\" in text
    assert read_part(save(tmp_path, "bar.obj", text)).mesh.volume_mm3 == pytest.approx(L_VOLUME)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("just words\n", "not an OBJ"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 9\nf 1 2 9\n", "not there"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 0\n", "not there"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -9\n", "not there"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 x\n", "not an OBJ"),
        ("v 0 0 0\nv 1 0\nv 0 1 0\nf 1 2 3\n", "not an OBJ"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nl 1 2 3\n", "no triangles"),
        ("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 99999999999999999999\n", "not an OBJ"),
    ],
)
def test_bad_obj(text: str, words: str, tmp_path: Path) -> None:
    with pytest.raises(FileError, match=words):
        read_part(save(tmp_path, "bad.obj", text))


def ply_bar(fmt: str, faces: list[list[int]], *, extra: bool) -> bytes:
    """A PLY file written value by value, with colours and a block nobody asked for when ``extra``."""
    points, _ = l_bar(2)
    order = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}[fmt]
    head = [f"ply\nformat {fmt} 1.0\ncomment by a test\nelement vertex {len(points)}"]
    head += ["property float x", "property double y", "property float z"]
    head += ["property uchar red"] if extra else []
    head += [f"element face {len(faces)}"]
    head += ["property uchar flags"] if extra else []
    head += ["property list uchar int vertex_indices"]
    head += ["property list uchar float texcoord"] if extra else []
    head += ["element edge 2\nproperty int vertex1\nproperty int vertex2"] if extra else []
    rows: list[list[tuple[str, float]]] = [
        [("f4", x), ("f8", y), ("f4", z)] + ([("u1", 7)] if extra else []) for x, y, z in points
    ]
    for face in faces:
        row: list[tuple[str, float]] = [("u1", 1)] if extra else []
        row += [("u1", len(face)), *(("i4", i) for i in face)]
        row += [("u1", 2), ("f4", 0.25), ("f4", 0.5)] if extra else []
        rows.append(row)
    rows += [[("i4", 0), ("i4", 1)], [("i4", 1), ("i4", 2)]] if extra else []
    if fmt == "ascii":
        body = "\n".join(" ".join(f"{v:g}" for _, v in row) for row in rows).encode() + b"\n"
    else:
        body = b"".join(np.array(v, order + kind).tobytes() for row in rows for kind, v in row)
    return "\n".join([*head, "end_header\n"]).encode() + body


@pytest.mark.parametrize("extra", [False, True])
@pytest.mark.parametrize("fmt", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_ply_of_mixed_polygons(fmt: str, extra: bool, tmp_path: Path) -> None:
    path = save(tmp_path, "bar.ply", ply_bar(fmt, l_bar(2)[1], extra=extra))
    part = read_part(path)
    assert part.mesh.volume_mm3 == pytest.approx(L_VOLUME, rel=1e-12)
    assert part.facts.open_edges == 0


@pytest.mark.parametrize("encoding", ["ascii", "binary"])
def test_ply_by_trimesh(encoding: str, tmp_path: Path) -> None:
    path = save(tmp_path, "box.ply", TRIMESH_BOX.export(file_type="ply", encoding=encoding))
    mesh = parse(path, path.read_bytes())
    np.testing.assert_array_equal(mesh.faces, TRIMESH_BOX.faces)
    np.testing.assert_array_equal(mesh.vertices, TRIMESH_BOX.vertices)


def test_ply_cut_anywhere_is_refused(tmp_path: Path) -> None:
    for fmt in ("ascii", "binary_little_endian", "binary_big_endian"):
        whole = ply_bar(fmt, l_bar(2)[1], extra=True)
        for keep in range(0, len(whole) - 20, 23):
            with pytest.raises(FileError):
                read_part(save(tmp_path, "cut.ply", whole[:keep]))


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (
            "element vertex 4000000000\nproperty float x\nproperty float y\nproperty float z",
            "promises 4,000,000,000",
        ),
        ("element vertex -1\nproperty float x", "not a PLY"),
        ("element vertex 1\nproperty quad x", "not a PLY"),
        ("element vertex 1\nproperty float a", "not a PLY|cut off"),
        ("property float a", "not a PLY"),
        ("element face 0\nproperty list uchar int vertex_indices", "not a PLY"),
    ],
)
def test_bad_ply_headers(header: str, words: str, tmp_path: Path) -> None:
    data = f"ply\nformat binary_little_endian 1.0\n{header}\nend_header\n".encode() + b"\0" * 4
    with pytest.raises(FileError, match=words):
        read_part(save(tmp_path, "bad.ply", data))


def test_ply_faces_that_point_nowhere(tmp_path: Path) -> None:
    for index in (12, -1):
        faces = [*l_bar(2)[1][:-1], [0, 1, index]]
        with pytest.raises(FileError, match="not there"):
            read_part(save(tmp_path, "bad.ply", ply_bar("binary_little_endian", faces, extra=False)))


def test_all_twins_of_one_box_are_one_mesh(tmp_path: Path) -> None:
    sizes = {}
    for suffix in ("stl", "obj", "ply"):
        part = read_part(save(tmp_path, f"box.{suffix}", TRIMESH_BOX.export(file_type=suffix)))
        sizes[suffix] = (part.mesh.volume_mm3, *part.mesh.size_mm)
    for size in sizes.values():
        assert size == pytest.approx((40.0 * 30.0 * 20.0, *BOX_MM))
