from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from housingdesk.errors import FileError
from housingdesk.files import places
from housingdesk.files.meshstore import MeshStore, is_key
from housingdesk.geometry.types import Mesh
from tests.files.makers import box


def test_source_tree_places() -> None:
    root = Path(__file__).resolve().parents[2]
    assert places.resources_dir() == root / "resources"
    assert places.samples_dir() == root / "sample_projects"


def test_installed_places(tmp_path: Path) -> None:
    # The layout of the wheel: data inside the package, nothing beside it.
    root = Path(__file__).resolve().parents[2]
    package = tmp_path / "housingdesk"
    shutil.copytree(
        root / "housingdesk" / "files", package / "files", ignore=shutil.ignore_patterns("__pycache__")
    )
    shutil.copy(root / "housingdesk" / "__init__.py", package)
    for name in ("resources", "sample_projects"):
        (package / "_data" / name).mkdir(parents=True)
    code = "from housingdesk.files import places as p; print(p.resources_dir()); print(p.samples_dir())"
    env = {"PYTHONPATH": str(tmp_path), "PATH": "", "HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", code], env=env, cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == [str(package / "_data" / n) for n in ("resources", "sample_projects")]


def test_user_folders_can_be_moved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOUSINGDESK_DATA", str(tmp_path / "d"))
    monkeypatch.setenv("HOUSINGDESK_CACHE", str(tmp_path / "c"))
    assert (places.user_data_dir(), places.user_cache_dir()) == (tmp_path / "d", tmp_path / "c")
    monkeypatch.delenv("HOUSINGDESK_DATA")
    assert places.user_data_dir().name == "housingdesk"


def test_meshes_come_back_exactly_and_in_another_store(tmp_path: Path) -> None:
    mesh = Mesh(box().vertices / 3, box().faces)
    key = MeshStore(tmp_path / "deep" / "store").put(mesh)
    again = MeshStore(tmp_path / "deep" / "store")
    assert key == mesh.key
    assert again.has(key)
    np.testing.assert_array_equal(again.get(key).vertices, mesh.vertices)
    np.testing.assert_array_equal(again.get(key).faces, mesh.faces)
    assert again.put(mesh) == key
    assert len(list((tmp_path / "deep" / "store").iterdir())) == 1


def test_what_is_missing_or_damaged_is_told(tmp_path: Path) -> None:
    store = MeshStore(tmp_path)
    for key in ("0" * 32, "../../etc/passwd", "", "x"):
        assert not store.has(key)
        with pytest.raises(FileError, match="open the part's file again"):
            store.get(key)
    key, other = store.put(box()), store.put(box((1.0, 2.0, 3.0)))
    whole = (tmp_path / f"{key}.npz").read_bytes()
    for bad in (whole[: len(whole) // 2], b"", b"junk", (tmp_path / f"{other}.npz").read_bytes()):
        (tmp_path / f"{key}.npz").write_bytes(bad)
        with pytest.raises(FileError, match="open the part's file again"):
            store.get(key)


def test_keys() -> None:
    assert is_key(box().key)
    assert not is_key(box().key + "\n")
    assert not is_key(box().key.upper())


def test_compiled_kernels_go_where_no_others_lie(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "package"
    (package / "geometry" / "deep").mkdir(parents=True)
    kernel, plain = package / "geometry" / "deep" / "kernel.py", package / "geometry" / "plain.py"
    kernel.write_text("@njit(cache=True)\ndef one(): ...\n", encoding="utf-8")
    plain.write_text("def two(): ...\n", encoding="utf-8")
    monkeypatch.setattr(places, "_PACKAGE", package)
    first = places.compiled_dir()
    plain.write_text("def two(): return 2\n", encoding="utf-8")
    assert places.compiled_dir() == first
    kernel.write_text("@njit(cache=True)\ndef one(): return 1\n", encoding="utf-8")
    assert places.compiled_dir() != first


def test_compiled_kernels_of_a_few_other_versions_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOUSINGDESK_CACHE", str(tmp_path))
    own = places.compiled_dir()
    for age, folder in enumerate([own.parent / f"old{i}" for i in range(6)]):
        folder.mkdir(parents=True)
        (folder / "kernel.nbi").write_bytes(b"")
        os.utime(folder, (1_000_000 - age, 1_000_000 - age))
    own.mkdir()
    os.utime(own, (1, 1))
    places.forget_older_kernels()
    assert {f.name for f in own.parent.iterdir()} == {own.name, "old0", "old1", "old2"}
