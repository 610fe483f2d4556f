"""STEP (ISO 10303-21) through cascadio, which tessellates and answers with a GLB in metres."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Iterator
from pathlib import Path

import cascadio
import numpy as np
import trimesh

from housingdesk.files.readers.base import RawPart, Reader, check_count, cut_off, not_a
from housingdesk.geometry.types import Mesh, joined

# The triangles' corners lie on the true surface; a chord falls short of it by at most this.
CHORD_MM = 0.01
CHORD_RAD = 0.5
_MM_PER_METRE = 1000.0  # glTF 2.0, section 3.4: "The units for all linear distances are meters."


def read(path: Path, data: bytes) -> RawPart:
    """Read all solids of a STEP file as one mesh, in mm: a STEP file always states its unit."""
    # ISO 10303-21, clause 5: a file begins with the first of these words and ends with the second.
    if not data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"ISO-10303-21"):
        raise not_a("a STEP file", path)
    if b"END-ISO-10303-21" not in data[-4096:]:
        raise cut_off(path, "its end is missing")
    with _quiet():
        glb = cascadio.load(data, "step", tol_linear=CHORD_MM, tol_angular=CHORD_RAD)
    if not glb:
        raise not_a("a STEP file", path)
    scene = trimesh.load_scene(io.BytesIO(glb), file_type="glb", process=False)
    meshes = []
    for node in scene.graph.nodes_geometry:
        transform, name = scene.graph[node]
        solid = scene.geometry[name]
        if isinstance(solid, trimesh.Trimesh):
            meshes.append(Mesh(solid.vertices, solid.faces).moved(transform))
    check_count(path, sum(m.triangles for m in meshes))
    whole = joined(meshes)
    return RawPart(whole.moved(np.diag([_MM_PER_METRE] * 3 + [1.0])), "mm")


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep what the native library prints about a bad file away from the user, who gets a sentence."""
    sys.stdout.flush()
    sys.stderr.flush()
    with contextlib.ExitStack() as stack:
        null = os.open(os.devnull, os.O_WRONLY)
        stack.callback(os.close, null)
        for stream in (1, 2):
            with contextlib.suppress(OSError):  # a program without a console has no such streams
                kept = os.dup(stream)
                stack.callback(os.close, kept)
                stack.callback(os.dup2, kept, stream)
                os.dup2(null, stream)
        yield


READER = Reader((".step", ".stp"), "STEP", read)
