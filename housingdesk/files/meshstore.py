"""Meshes on disk by content key: how the window and the worker hand them to each other."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import numpy as np

from housingdesk.errors import FileError
from housingdesk.files.atomic import file_errors, replacing
from housingdesk.geometry.types import Mesh

_KEY = re.compile(r"[0-9a-f]{32}")


def is_key(text: str) -> bool:
    """Whether a text can be a mesh key, and so is safe as a file name."""
    return _KEY.fullmatch(text) is not None


class MeshStore:
    """A folder of meshes named by what is in them.

    Two processes may put the same mesh at once: each writes its own temporary file, the last rename
    wins, and both files are the same.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, mesh: Mesh) -> str:
        """Keep a mesh and return its key.

        Raises
        ------
        FileError : the folder cannot be written.
        """
        path = self._path(mesh.key)
        if not path.exists():
            with file_errors("write to", self.folder):
                self.folder.mkdir(parents=True, exist_ok=True)
            with replacing(path) as stream:
                np.savez(stream, vertices=mesh.vertices, faces=mesh.faces)
        return mesh.key

    def has(self, key: str) -> bool:
        """Whether ``get`` would find this mesh."""
        return is_key(key) and self._path(key).exists()

    def get(self, key: str) -> Mesh:
        """Return a mesh by its key.

        Raises
        ------
        FileError : it is not there, or what is there is not what was put.
        """
        lost = FileError("The stored shape of a part is missing or damaged; open the part's file again.")
        if not self.has(key):
            raise lost
        try:
            # Opened here: numpy leaves a damaged file open that it has opened itself.
            with self._path(key).open("rb") as file, np.load(file, allow_pickle=False) as arrays:
                mesh = Mesh(arrays["vertices"], arrays["faces"])
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile) as error:
            raise lost from error
        if mesh.key != key:
            raise lost
        return mesh

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}.npz"
