"""What the worker does with each job, with a builder that only writes down how it was asked."""

from __future__ import annotations

import struct
import sys
import threading
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from housingdesk.build.results import CutPlane, PlaneProposal
from housingdesk.errors import FileError
from housingdesk.files.meshstore import MeshStore
from housingdesk.jobs import engine
from housingdesk.jobs.messages import Build, Built, Export, Exported, Loaded, LoadParts, Propose, Proposed
from housingdesk.jobs.worker import Handler
from housingdesk.spec.models import FitSpec, PartingSpec, PartSpec, ShellSpec, Spec
from tests.jobs import fakes

PROPOSAL = PlaneProposal("+z", 3.0, 0.0, 5.0, "Least relief.")
PLANE = CutPlane((0, 0, 1), (1, 0, 0), (0, 1, 0))


class WritingBuilder:
    """Stands for the engine."""

    asked: list[tuple[Any, ...]]

    def __init__(self, meshes: MeshStore) -> None:
        self.meshes = meshes
        WritingBuilder.asked = []

    def build(
        self,
        spec: Spec,
        quality: Any,
        section: Any,
        generation: int,
        progress: Any,
        upto: str = "play",
    ) -> object:
        self.asked.append(("build", spec, quality, section, generation, progress, upto))
        return fakes.big_result(Build(spec, quality, section), generation)

    def propose(self, parts: Any, fit: Any, shell: Any, pull: Any, progress: Any) -> object:
        self.asked.append(("propose", parts, fit, shell, pull, progress))
        return (PROPOSAL,)


def tell(phrase: str, share: float | None = None) -> None:
    pass


@pytest.fixture
def handler(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Handler:
    pipeline = ModuleType("housingdesk.build.pipeline")
    pipeline.Builder = WritingBuilder  # type: ignore[attr-defined]  # a module made by hand
    monkeypatch.setitem(sys.modules, "housingdesk.build.pipeline", pipeline)
    return engine.make_handler(tmp_path / "store", tell)


def tetrahedron_stl(path: Path) -> Path:
    """A binary STL of 20 mm, written from the format's own layout: 80 bytes, count, 50 bytes a triangle."""
    corners = [(0.0, 0.0, 0.0), (20.0, 0.0, 0.0), (0.0, 20.0, 0.0), (0.0, 0.0, 20.0)]
    faces = [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]
    body = b"".join(
        struct.pack("<12fH", 0, 0, 0, *(x for i in face for x in corners[i]), 0) for face in faces
    )
    path.write_bytes(bytes(80) + struct.pack("<I", len(faces)) + body)
    return path


def test_a_loaded_part_is_in_the_store_for_the_builds_that_follow(tmp_path: Path, handler: Handler) -> None:
    phrases: list[str] = []
    answer = handler(
        LoadParts(tetrahedron_stl(tmp_path / "a.stl"), "cm"), 1, lambda p, share=None: phrases.append(p)
    )
    assert isinstance(answer, Loaded)
    (part,) = answer.parts
    assert (part.unit, part.unit_origin, part.mesh.triangles) == ("cm", "given", 4)
    assert MeshStore(tmp_path / "store").get(part.mesh.key).key == part.mesh.key
    assert phrases


def test_a_missing_file_is_a_users_mistake(tmp_path: Path, handler: Handler) -> None:
    with pytest.raises(FileError):
        handler(LoadParts(tmp_path / "none.stl"), 1, tell)


def test_builds_proposals_and_exports_reach_the_builder_as_asked(
    tmp_path: Path, handler: Handler, monkeypatch: pytest.MonkeyPatch
) -> None:
    loaded = handler(LoadParts(tetrahedron_stl(tmp_path / "a.stl"), "mm"), 1, tell)
    assert isinstance(loaded, Loaded)
    key = loaded.parts[0].mesh.key
    part = PartSpec(name="motor", mesh_key=key)
    spec = Spec(parts=(part,), parting=PartingSpec(height_mm=3))

    built = handler(Build(spec, "draft", PLANE, upto="proof"), 7, tell)
    assert isinstance(built, Built)
    assert built.result.generation == 7

    asked = Propose((part,), FitSpec(), ShellSpec(), "+x")
    assert handler(asked, 8, tell) == Proposed((PROPOSAL,))
    assert WritingBuilder.asked == [
        ("build", spec, "draft", PLANE, 7, tell, "proof"),
        ("propose", (part,), FitSpec(), ShellSpec(), "+x", tell),
    ]

    written: list[tuple[Any, ...]] = []

    def write(folder: Path, result: Any, pose: str, meshes: Any, *, replace: bool) -> tuple[Path, ...]:
        written.append((folder, result.generation, pose, {k: m.key for k, m in meshes.items()}, replace))
        return (folder / "lower.stl",)

    monkeypatch.setattr("housingdesk.deliver.output.write_outputs", write)
    again = engine.make_handler(tmp_path / "store", tell)
    out = again(Export(spec, tmp_path / "out", "assembled"), 9, tell)
    assert out == Exported((tmp_path / "out" / "lower.stl",))
    assert written == [(tmp_path / "out", 9, "assembled", {key: key}, False)]
    assert WritingBuilder.asked == [("build", spec, "final", None, 9, tell, "play")]


def test_only_a_long_warm_up_is_told(
    tmp_path: Path, handler: Handler, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[tuple[str, float | None]] = []
    told = threading.Event()

    def hear(phrase: str, share: float | None = None) -> None:
        said.append((phrase, share))
        told.set()

    def compiling(*args: object) -> None:
        assert told.wait(60)

    monkeypatch.setattr(engine, "_LONG_S", 3600.0)
    engine.make_handler(tmp_path, hear)
    assert said == []
    monkeypatch.setattr(engine, "_LONG_S", 0.0)
    monkeypatch.setattr("housingdesk.geometry.offset.grow", compiling)
    engine.make_handler(tmp_path, hear)
    assert said == [(engine.PREPARING, None)]
