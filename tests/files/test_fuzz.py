"""Whatever stands in a file, a reader gives a part or a sentence, and takes no more memory than it should."""

from __future__ import annotations

import tempfile
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from housingdesk.build.results import LoadedPart
from housingdesk.errors import HousingError
from housingdesk.files.meshes import read_part
from housingdesk.files.project import load_project, save_project
from housingdesk.spec.models import PartingSpec, PartSpec, Spec
from tests.files.makers import BOX_MM, box, box_corners, mesh_object, save_3mf, shift, stl, stl_text
from tests.files.test_3mf_step import new_model
from tests.files.test_obj_ply import l_bar, obj, ply_bar

# Mostly structure that a parser takes seriously, mixed into valid files.
TOKENS = [
    b"nan", b"inf", b"-1", b"0", b"1e999", b"4294967295", b"99999999999999999999", b"\xff\xff\xff\xff", b"\0",
    b"\n", b" ", b"vertex", b"endloop", b"endsolid", b"solid", b"facet", b"element vertex 9",
    b"property list", b"f 1 2", b"v 1", b"/",
    b"end_header", b"{", b"}", b"[", b'"', b"null", b"<", b"#1=", b"(", b";",
]  # fmt: skip
MAX_PEAK_BYTES = 64 << 20  # for files of a few kilobytes


@st.composite
def mutated(draw: st.DrawFn, originals: list[bytes]) -> bytes:
    """A valid file with some bytes replaced, cut, doubled or inserted."""
    data = bytearray(draw(st.sampled_from(originals)))
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(data)))
        match draw(st.sampled_from(["byte", "insert", "cut", "double", "drop", "token"])):
            case "byte" if at < len(data):
                data[at] = draw(st.integers(0, 255))
            case "insert":
                data[at:at] = draw(st.binary(max_size=12))
            case "cut":
                del data[at:]
            case "double":
                data[at:at] = data[at : at + draw(st.integers(1, 60))]
            case "drop":
                del data[at : at + draw(st.integers(1, 60))]
            case "token":
                data[at:at] = draw(st.sampled_from(TOKENS))
            case _:
                pass
    return bytes(data)


def originals() -> dict[str, list[bytes]]:
    """Small valid files of each kind."""
    faces = l_bar(2)[1]
    model = new_model()
    pair = model.AddComponentsObject()
    pair.AddComponent(mesh_object(model, box(), "box"), shift(0, 0, 1))
    model.AddBuildItem(pair, shift(0, 0, 0))
    with tempfile.TemporaryDirectory() as folder:
        threemf = save_3mf(model, Path(folder) / "box.3mf").read_bytes()
    return {
        ".stl": [stl(box_corners()), stl_text(box_corners()).encode()],
        ".obj": [obj(*l_bar(2)).encode(), obj(*l_bar(2), negative=True).encode()],
        ".ply": [ply_bar(f, faces, extra=e) for f in ("ascii", "binary_little_endian") for e in (True, False)]
        + [trimesh.creation.box(BOX_MM).export(file_type="ply")],
        ".3mf": [threemf],
    }


ORIGINALS = originals()


def gives_a_part_or_a_sentence(data: bytes, suffix: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"part{suffix}"
        path.write_bytes(data)
        tracemalloc.start()
        try:
            assert isinstance(read_part(path), LoadedPart)
        except HousingError as error:
            assert "\n" not in str(error)
            assert str(error).endswith(".")
        finally:
            _, peak = tracemalloc.get_traced_memory()
            tracemalloc.stop()
    assert peak < MAX_PEAK_BYTES


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply", ".3mf", ".step"])
@settings(max_examples=25)
@given(data=st.binary(max_size=400))
def test_random_bytes(suffix: str, data: bytes) -> None:
    gives_a_part_or_a_sentence(data, suffix)


@pytest.mark.parametrize("suffix", list(ORIGINALS))
def test_originals_are_valid(suffix: str, tmp_path: Path) -> None:
    for data in ORIGINALS[suffix]:
        path = tmp_path / f"part{suffix}"
        path.write_bytes(data)
        assert read_part(path).facts.open_edges == 0


@pytest.mark.parametrize("suffix", list(ORIGINALS))
def test_mutated_files(suffix: str) -> None:
    @settings(max_examples=60)
    @given(data=mutated(ORIGINALS[suffix]))
    def run(data: bytes) -> None:
        gives_a_part_or_a_sentence(data, suffix)

    run()


def model_xml() -> tuple[bytes, Callable[[Path, bytes], None]]:
    """The model inside a 3MF, and a way to put another one in its place with a right checksum."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "box.3mf"
        path.write_bytes(ORIGINALS[".3mf"][0])
        with zipfile.ZipFile(path) as archive:
            entries = {name: archive.read(name) for name in archive.namelist()}

    def write(path: Path, xml: bytes) -> None:
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
            for name, data in entries.items():
                out.writestr(name, xml if name.endswith("3dmodel.model") else data)

    return entries["3D/3dmodel.model"], write


def test_mutated_3mf_models() -> None:
    xml, write = model_xml()

    @settings(max_examples=40)
    @given(data=mutated([xml]))
    def run(data: bytes) -> None:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "box.3mf"
            write(path, data)
            gives_a_part_or_a_sentence(path.read_bytes(), ".3mf")

    run()


def project_bytes() -> tuple[bytes, bytes]:
    """A project file, and the JSON in it."""
    mesh = box()
    spec = Spec(parts=(PartSpec(name="Motor", mesh_key=mesh.key),), parting=PartingSpec(height_mm=8.0))
    with tempfile.TemporaryDirectory() as folder:
        save_project(Path(folder) / "a.hdesk", spec, {mesh.key: mesh})
        save_project(Path(folder) / "b", spec, {mesh.key: mesh})
        return (Path(folder) / "a.hdesk").read_bytes(), (Path(folder) / "b" / "project.json").read_bytes()


PROJECT, DOCUMENT = project_bytes()


@settings(max_examples=60)
@given(data=st.one_of(st.binary(max_size=300), mutated([PROJECT])))
def test_mutated_project_files(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.hdesk"
        path.write_bytes(data)
        opens_or_says_why(path)


json_values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=9)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=9), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(max_examples=80)
@given(data=st.one_of(mutated([DOCUMENT]), json_values.map(lambda v: repr(v).encode("utf-8", "replace"))))
def test_mutated_documents(data: bytes) -> None:
    mesh = box()
    with tempfile.TemporaryDirectory() as folder:
        spec = Spec(parts=(PartSpec(name="Motor", mesh_key=mesh.key),), parting=PartingSpec(height_mm=8.0))
        save_project(Path(folder), spec, {mesh.key: mesh})
        (Path(folder) / "project.json").write_bytes(data)
        opens_or_says_why(Path(folder))


def opens_or_says_why(path: Path) -> None:
    try:
        spec, meshes = load_project(path)
    except HousingError as error:
        assert "\n" not in str(error)
        assert str(error).endswith(".")
    else:
        assert isinstance(spec, Spec)
        assert {p.mesh_key for p in spec.parts} == set(meshes)
