"""Small documents for the tests of this folder."""

from __future__ import annotations

import numpy as np

from housingdesk.build.results import BuildResult
from housingdesk.document.document import Document
from housingdesk.geometry.types import Mesh
from housingdesk.spec.models import PartingSpec, PartSpec, Spec


def tetrahedron(size: float) -> Mesh:
    return Mesh(
        np.array([[0, 0, 0], [size, 0, 0], [0, size, 0], [0, 0, size]]),
        np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]),
    )


PART, OTHER = tetrahedron(20), tetrahedron(30)
SPEC = Spec(name="Vent", parts=(PartSpec(name="motor", mesh_key=PART.key),), parting=PartingSpec(height_mm=8))


def document() -> Document:
    return Document(SPEC, {PART.key: PART})


def result(spec: Spec, generation: int) -> BuildResult:
    return BuildResult(
        generation, "draft", spec, (1.0,) * 16, 3.0, np.zeros((2, 3)), (PART,), {"lower": PART}, None, ()
    )
