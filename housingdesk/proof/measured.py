"""All measuring a proof does, once for all checks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from housingdesk.features.footholds import free
from housingdesk.geometry.edges import Edges, edges_of
from housingdesk.geometry.measure import TOUCH_MM, Gap, distances, inside, least_gap, way_gap, witnesses
from housingdesk.geometry.types import SIDES, Floats, Mesh, Side, joined
from housingdesk.geometry.walls import Shell, shell_of
from housingdesk.proof.contacts import pared
from housingdesk.proof.facts import HalfFacts, ZoneFacts
from housingdesk.proof.subject import Subject
from housingdesk.proof.wording import SLACK_MM
from housingdesk.proof.zones import measure_zones

_WITNESSES = 2000  # each body has its own besides, and surfaces that cross have no gap
_ESTIMATE_POINTS = 40_000


@dataclass(frozen=True)
class HalfMeasured:
    """What was measured on one half.

    Attributes
    ----------
    gap, way : least gap to the seated part, and on its way in (with the place on the way).
    way_hits : part points found inside the material on the way.
    stuck : (k, 3) points of the seated part that lie inside the material, deepest first.
    piece_volumes_mm3 : of each connected piece, largest first; negative for a hollow inside the material.
    closed : whether the surface as a printer's file stores it (32 bits) has no border and one outside.
    """

    gap: Gap
    way: Gap
    way_hits: int
    stuck: Floats
    overlap_mm3: float
    piece_volumes_mm3: Floats
    closed: bool
    shell: Shell

    def goes_in(self, asked_mm: float) -> bool:
        """Tell whether the part goes straight in with the room asked."""
        return not self.way_hits and self.way.certain_mm >= asked_mm - 2 * SLACK_MM


@dataclass(frozen=True)
class Measured:
    """What was measured on a whole housing."""

    halves: dict[Side, HalfMeasured]
    part: Mesh
    zones: tuple[ZoneFacts, ...] = ()


def measure(subject: Subject) -> Measured:
    """Measure both halves against the untouched parts."""
    part = subject.parts[0] if len(subject.parts) == 1 else joined(subject.parts)
    points = np.concatenate([witnesses(part, _WITNESSES), _one_of_each_body(part)])
    points = free(points, subject.contacts)
    zones = measure_zones(subject, part) if subject.zones else ()
    return Measured({side: _half(subject, side, part, points) for side in SIDES}, part, zones)


def facts_of(subject: Subject, measured: Measured, side: Side) -> HalfFacts:
    """Return the figures of one half as results carry them."""
    half, found = subject.halves[side], measured.halves[side]
    beside = [w.least_mm for w in found.shell.walls[:-1]]
    x, y, z = half.size_mm.tolist()
    return HalfFacts(
        volume_mm3=half.volume_mm3,
        triangles=half.triangles,
        size_mm=(x, y, z),
        min_gap_mm=0.0 if len(found.stuck) else found.gap.distance_mm,
        min_gap_at_mm=found.gap.at_part_mm,
        way_gap_mm=0.0 if found.way_hits else found.way.distance_mm,
        overlap_mm3=found.overlap_mm3,
        relief_mm3=subject.relief_mm3[side],
        wall_mm=min(beside),
        floor_mm=found.shell.walls[-1].least_mm,
        clear=found.goes_in(subject.clearance_mm),
    )


def _half(subject: Subject, side: Side, part: Mesh, points: Floats) -> HalfMeasured:
    half = subject.halves[side]
    bare = pared(half, subject.contacts)
    reach = float(part.size_mm[2]) + subject.clearance_mm + 2.0
    way, hits = way_gap(part, bare, 1 if side == "lower" else -1, reach)
    stuck = points[inside(points, half)]
    depth = distances(stuck, half)
    order = np.argsort(-depth)
    stuck = stuck[order[depth[order] > TOUCH_MM]]
    stored = edges_of(half.vertices.astype(np.float32), half.faces)
    return HalfMeasured(
        gap=least_gap(part, bare),
        way=way,
        way_hits=hits,
        stuck=stuck,
        overlap_mm3=_shared_mm3(part, bare) if len(stuck) else 0.0,
        piece_volumes_mm3=_piece_volumes(stored),
        closed=stored.closed,
        shell=shell_of(
            half,
            subject.outer_mm,
            subject.parting_z_mm,
            upper=side == "upper",
            margin_mm=subject.clearance_mm + subject.wall_mm,
            apart=subject.fastened,
            skin=subject.skins.get(side),
            meant=subject.meant,
        ),
    )


def _labels(edges: Edges) -> np.ndarray[tuple[int], np.dtype[np.int32]]:
    """Return the number of the connected piece that each vertex belongs to."""
    n = len(edges.vertices)
    graph = coo_array((np.ones(len(edges.ends)), (edges.ends[:, 0], edges.ends[:, 1])), shape=(n, n))
    return np.asarray(connected_components(graph, directed=False)[1], np.int32)


def _one_of_each_body(mesh: Mesh) -> Floats:
    """Return one corner of every connected piece, so that none is overlooked."""
    edges = edges_of(mesh.vertices, mesh.faces)
    used = np.unique(edges.faces)
    _, first = np.unique(_labels(edges)[used], return_index=True)
    return edges.vertices[used[first]]


def _piece_volumes(edges: Edges) -> Floats:
    """Return the signed volume of each connected piece, largest first (divergence theorem)."""
    if not len(edges.faces):
        return np.zeros(0)
    a, b, c = (edges.vertices[edges.faces[:, i]] - edges.vertices.mean(axis=0) for i in range(3))
    sixth = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6
    _, piece = np.unique(_labels(edges)[edges.faces[:, 0]], return_inverse=True)
    volumes: Floats = np.sort(np.bincount(piece, weights=sixth).astype(np.float64))[::-1]
    return volumes


def _shared_mm3(part: Mesh, half: Mesh) -> float:
    """Estimate the space part and half both claim, from points strewn in their common box."""
    low = np.maximum(part.bounds[0], half.bounds[0])
    high = np.minimum(part.bounds[1], half.bounds[1])
    points = np.random.default_rng(7).uniform(low, high, (_ESTIMATE_POINTS, 3))
    points = points[inside(points, half)]
    both = np.count_nonzero(inside(points, part))
    return float(np.prod(high - low) * both / _ESTIMATE_POINTS)
