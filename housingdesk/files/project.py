"""The project: readable JSON beside the part meshes, in a folder or in a zip of the same layout.

project.json        {"format": "housing desk project", "version": 1, "spec": {...}}
parts/<key>.ply     one for each mesh the spec names; double precision, nothing lost
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from housingdesk.errors import FileError, SpecError
from housingdesk.files.atomic import file_errors, replacing
from housingdesk.files.meshstore import is_key
from housingdesk.files.readers import ply
from housingdesk.files.readers.base import MAX_FILE_BYTES
from housingdesk.files.write import ply_bytes
from housingdesk.files.zips import open_zip, read_entry
from housingdesk.geometry.types import Mesh
from housingdesk.spec.limits import sentence_of
from housingdesk.spec.migrations import FORMAT, VERSION, migrate
from housingdesk.spec.models import Spec

SUFFIX = ".hdesk"
DOCUMENT = "project.json"
PARTS = "parts"
_MAX_JSON_BYTES = 16 << 20

ReadEntry = Callable[[str, int], bytes]  # name inside the project, most bytes it may have


def is_project(path: Path) -> bool:
    """Whether a path is one that ``load_project`` takes: a project folder, its JSON, or a project file."""
    return path.suffix.lower() == SUFFIX or path.name == DOCUMENT or (path / DOCUMENT).is_file()


def load_project(path: Path) -> tuple[Spec, dict[str, Mesh]]:
    """Open a project.

    Parameters
    ----------
    path : a project folder, the ``project.json`` in it, or a project file (.hdesk).

    Returns
    -------
    spec : valid.
    meshes : by ``mesh_key``, in file units; one for each key the spec names.

    Raises
    ------
    FileError : damaged, unsafe, incomplete, or written by a newer version.
    SpecError : a value in it is outside its limits.
    """
    with _opened(path) as read:
        spec = _spec(path, _entry(path, read, DOCUMENT, _MAX_JSON_BYTES))
        keys = dict.fromkeys(part.mesh_key for part in spec.parts)
        return spec, {key: _mesh(path, read, key) for key in keys}


def save_project(path: Path, spec: Spec, meshes: Mapping[str, Mesh]) -> None:
    """Save a project; a crash or a full disk leaves the old one whole.

    Parameters
    ----------
    path : a project file when it ends in .hdesk, else a folder (or its ``project.json``).
    meshes : holds every mesh that the spec names.

    Raises
    ------
    FileError : the place cannot be written.
    """
    wanted = {part.mesh_key: meshes[part.mesh_key] for part in spec.parts}
    document = {"format": FORMAT, "version": VERSION, "spec": spec.model_dump(mode="json")}
    text = (json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()
    if path.suffix.lower() == SUFFIX:
        _save_file(path, text, wanted)
    else:
        _save_folder(path.parent if path.name == DOCUMENT else path, text, wanted)


def _save_file(path: Path, text: bytes, meshes: Mapping[str, Mesh]) -> None:
    with file_errors("write", path):
        path.parent.mkdir(parents=True, exist_ok=True)
    # Meshes are stored as they are: quick, and never mistaken for an archive that unpacks to a flood.
    with replacing(path) as stream, zipfile.ZipFile(stream, "w") as out:
        out.writestr(DOCUMENT, text)
        for key, mesh in meshes.items():
            out.writestr(_mesh_name(key), ply_bytes(mesh))


def _save_folder(path: Path, text: bytes, meshes: Mapping[str, Mesh]) -> None:
    """Write the meshes first: until the JSON is replaced, the old project is what the folder holds."""
    parts = path / PARTS
    with file_errors("write to", path):
        parts.mkdir(parents=True, exist_ok=True)
    for key, mesh in meshes.items():
        if not (path / _mesh_name(key)).exists():  # named by its content: what is there is the same
            with replacing(path / _mesh_name(key)) as stream:
                stream.write(ply_bytes(mesh))
    with replacing(path / DOCUMENT) as stream:
        stream.write(text)
    with file_errors("write to", path):
        for old in parts.glob("*.ply"):
            if is_key(old.stem) and old.stem not in meshes:
                old.unlink()


@contextmanager
def _opened(path: Path) -> Iterator[ReadEntry]:
    """Give a way to read entries by name, alike for folders and files."""
    with file_errors("open", path):
        folder = path.parent if path.name == DOCUMENT else path
        if path.suffix.lower() != SUFFIX or path.is_dir():
            folder.stat()
            yield lambda name, limit: _read_bounded(folder / name, limit)
            return
        with open_zip(path) as archive:
            yield lambda name, limit: read_entry(archive, name, limit)


def _read_bounded(path: Path, limit: int) -> bytes:
    with path.open("rb") as stream:
        data = stream.read(limit + 1)
    if len(data) > limit:
        raise FileError(f"{path.name} is larger than it may be; use a copy of the project.")
    return data


def _entry(path: Path, read: ReadEntry, name: str, limit: int) -> bytes:
    try:
        return read(name, limit)
    except (KeyError, FileNotFoundError, NotADirectoryError) as error:
        raise FileError(
            f"{path.name} is no whole project: {name} is missing in it; use a copy of it."
        ) from error


def _spec(path: Path, text: bytes) -> Spec:
    try:
        document: Any = json.loads(text.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise FileError(
            f"{DOCUMENT} in {path.name} is cut off or damaged; use a copy of the project."
        ) from error
    document = migrate(document)
    if not isinstance(document.get("spec"), dict):
        raise FileError(f"{DOCUMENT} in {path.name} holds no housing; use a copy of the project.")
    try:
        # As JSON again, so that lists may stand for tuples and nothing else is bent into shape.
        return Spec.model_validate_json(json.dumps(document["spec"]), strict=True)
    except ValidationError as error:
        raise SpecError(f"{path.name} cannot be opened as it is. {sentence_of(error)}") from error


def _mesh(path: Path, read: ReadEntry, key: str) -> Mesh:
    # A key becomes a file name, so anything else could lead out of the project.
    if not is_key(key):
        raise FileError(
            f"{path.name} names a part in a way that is none of ours ({key[:40]!r}); use a copy of it."
        )
    name = _mesh_name(key)
    mesh = ply.parse(Path(name), _entry(path, read, name, MAX_FILE_BYTES))
    if mesh.key != key:
        raise FileError(
            f"The part {name} in {path.name} is not the one that was saved; use a copy of the project."
        )
    return mesh


def _mesh_name(key: str) -> str:
    return f"{PARTS}/{key}.ply"
