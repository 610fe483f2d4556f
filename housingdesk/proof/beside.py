"""Parts as what stops each other: clear of each other, touching, or run into each other as modelled.

Parts that touch are drawn back by a hair, so that one slides along the other; parts modelled a little into
each other by that little more.  Parts that lie deeper in each other are pressed or screwed together, as a
wheel on its shaft, and move as one body.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from housingdesk.geometry.measure import distances, inside, samples
from housingdesk.geometry.types import Floats, Mesh

OVERLAP_MM = 0.1  # so far parts that only touch may run into each other, as modelled (own choice)
HAIR_MM = 1e-3
_STREWN = 1500
_CORNERS = 10_000  # most points of a part that are looked at
_BLUNT = 0.2  # cosine: at sharper corners the faces are drawn back by less than asked


def overlap(one: Mesh, other: Mesh) -> float:
    """Return how deep two parts lie in each other, mm; less than nothing (their distance) where they do not.

    Measured at corners and points strewn, so a distance is no less than the true one.
    """
    (low, high), (far, near) = one.bounds, other.bounds
    apart = float(np.maximum(low - near, far - high).max())
    if apart > HAIR_MM:
        return -apart
    deepest, least = 0.0, np.inf
    for mine, theirs in ((one, other), (other, one)):
        points = np.concatenate([mine.vertices[np.unique(mine.faces)], samples(mine, _STREWN, seed=3)])
        near = (points > theirs.bounds[0] - HAIR_MM) & (points < theirs.bounds[1] + HAIR_MM)
        points = points[near.all(axis=1)]
        points = points[:: max(1, -(-len(points) // _CORNERS))]
        if not len(points):
            continue
        away = distances(points, theirs)
        least = min(least, float(away.min()))
        within = inside(points, theirs)
        if within.any():
            deepest = max(deepest, float(away[within].max()))
    return deepest if deepest > 0 else -least


def bodies(parts: Sequence[Mesh]) -> tuple[tuple[tuple[int, ...], ...], dict[tuple[int, int], float]]:
    """Return which parts move as one body, and of every two of different bodies how deep they overlap."""
    count = len(parts)
    deep = {(i, j): overlap(parts[i], parts[j]) for i in range(count) for j in range(i + 1, count)}
    group = list(range(count))
    for (i, j), by in deep.items():
        if by > OVERLAP_MM and group[i] != group[j]:
            old, new = max(group[i], group[j]), min(group[i], group[j])
            group = [new if g == old else g for g in group]
    groups = tuple(tuple(i for i in range(count) if group[i] == g) for g in sorted(set(group)))
    return groups, {pair: by for pair, by in deep.items() if group[pair[0]] != group[pair[1]]}


def as_obstacles(parts: Sequence[Mesh], own: Sequence[int], deep: dict[tuple[int, int], float]) -> list[Mesh]:
    """Return the parts that do not belong to a body as what stops it, drawn back where they touch it."""
    out = []
    for number, part in enumerate(parts):
        if number in own:
            continue
        by = max(deep[min(number, i), max(number, i)] for i in own)
        outward = part if part.volume_mm3 >= 0 else Mesh(part.vertices, part.faces[:, ::-1])
        out.append(drawn_back(outward, max(by, 0.0) + HAIR_MM) if by > -HAIR_MM else outward)
    return out


def drawn_back(part: Mesh, by_mm: float) -> Mesh:
    """Return an outward-facing part with all of its faces a little further in."""
    vertices, index = np.unique(part.vertices, axis=0, return_inverse=True)
    faces = index.reshape(-1)[part.faces]
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    normals = np.cross(b - a, c - a)
    size = np.linalg.norm(normals, axis=1)
    faces, normals = faces[size > 0], normals[size > 0] / size[size > 0, None]
    way: Floats = np.zeros_like(vertices)
    for i in range(3):
        # By the angle at the corner: how a flat is cut into triangles makes no difference.
        one = vertices[faces[:, (i + 1) % 3]] - vertices[faces[:, i]]
        two = vertices[faces[:, (i + 2) % 3]] - vertices[faces[:, i]]
        angle = np.arctan2(np.linalg.norm(np.cross(one, two), axis=1), (one * two).sum(axis=1))
        np.add.at(way, faces[:, i], normals * angle[:, None])
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
    least = np.ones(len(vertices))
    for i in range(3):
        np.minimum.at(least, faces[:, i], (way[faces[:, i]] * normals).sum(axis=1))
    return Mesh(vertices - by_mm * way / np.maximum(least, _BLUNT)[:, None], faces)
