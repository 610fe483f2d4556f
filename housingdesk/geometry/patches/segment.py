"""Find the flats, cylinders and cones of a part.

1. The mesh is cut into facets (see `facets`).
2. Rounds that hold exactly are grown over facets: three facets and more, on more corners than a cylinder
   has unknowns.  A ball or a ring is a chain of narrow exact cones; such chains are taken out again.
3. Facets left over are flats, unless they are one of many small ones on a free-form surface.
4. What is still left may be noisy (a scan): rounds, then flats, within the last digit of calipers.
   Very large parts go without the rounds.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from housingdesk.geometry.patches.facets import FLAT_DEG, Facets, facets_of, summed
from housingdesk.geometry.patches.growing import MAX_BEND_DEG, find_flats, find_rounds
from housingdesk.geometry.patches.outlines import read_flat
from housingdesk.geometry.patches.patch import WHOLE_TURN, Patch
from housingdesk.geometry.patches.rounds import Round, fit, joined, over_edges, turn, with_cut_strips
from housingdesk.geometry.patches.triangles import Index
from housingdesk.geometry.types import Floats, Ints, Mesh

SOFT_DEG = 25.0  # bends up to here belong to a smooth surface
NOISE_MM = 0.03  # six times the spread of a good scan
QUIET = 0.22  # a band filled evenly has an rms of 0.58 of its half-width, noise of a sixth 0.17
CHAIN = 4  # so many rings in a row make a ball, a ring or an elbow
LIKE = 3.0  # rings of a chain differ less than this in length
CRUMB = 5e-4  # of the surface: smaller than that a flat needs company
MAX_NOISY = (
    150_000  # triangles; of larger parts only what holds exactly is found, the rest takes as long again
)
LEAST_MM = 0.2  # smaller than that nobody takes a reading of


@lru_cache(maxsize=4)
def find_patches(mesh: Mesh) -> tuple[Patch, ...]:
    """Find the flats, cylinders and cones of any mesh.

    Parameters
    ----------
    mesh : in mm; fine or coarse, shared vertices or not, open, doubled, flipped, several bodies.

    Returns
    -------
    Patches, largest area first, sharing no triangle.  Free-form surfaces belong to none.
    """
    f = facets_of(mesh)
    if f is None:
        return ()
    owner = np.full(f.count, -1, np.int64)
    rounds = _exact_rounds(f, owner)
    flats = _exact_flats(f, owner, len(rounds))
    rounds, flats = _noisy(f, owner, rounds, flats)
    whole = joined(f, rounds)
    owner[:] = -1
    _number(owner, [r.facets for r in whole], 0)
    _number(owner, flats, len(whole))
    faces = _faces_of(f, owner, len(whole) + len(flats))
    patches = [_round_patch(f, faces[i], r, owner) for i, r in enumerate(whole)]
    patches += [_flat_patch(f, faces[len(whole) + i], g) for i, g in enumerate(flats)]
    return tuple(sorted(patches, key=lambda p: (-p.area_mm2, int(p.faces[0]))))


def _one_of_each(f: Facets) -> Index:
    """First facet of each entry of ``f.near``."""
    return np.repeat(np.arange(f.count), np.diff(f.near_start))


def _groups(owner: Index, first: int, last: int) -> list[Index]:
    """Facets of each number from first to last, ascending."""
    order = np.argsort(owner, kind="stable")
    ends = np.searchsorted(owner[order], np.arange(first, last + 1))
    return [order[a:b] for a, b in pairwise(ends)]


def _inner_radius(areas: Floats, rims: Floats) -> Floats:
    """2 A / outline: the radius of the circle inside for any outline about one; half of a strip's width."""
    return np.asarray(2 * areas / np.where(rims > 0, rims, np.inf))


def _grow_rounds(f: Facets, owner: Index, first: int, *, noisy: bool) -> int:
    one = _one_of_each(f)
    least_deg = 0.0 if noisy else FLAT_DEG
    use = (one < f.near) & (f.near_deg > least_deg) & (f.near_deg < MAX_BEND_DEG)
    use &= (owner[one] < 0) & (owner[f.near] < 0)
    seeds = np.stack([one[use], f.near[use]], axis=1)
    rank = np.argsort(-np.minimum(f.facet_areas[seeds[:, 0]], f.facet_areas[seeds[:, 1]]), kind="stable")
    return int(
        find_rounds(
            f.points,
            f.facet_normals,
            f.facet_areas,
            f.facet_centres,
            f.corner_start,
            f.corners,
            f.near_start,
            f.near,
            f.near_deg,
            np.ascontiguousarray(seeds[rank]),
            owner,
            _noise_mm(f) if noisy else 2 * f.tolerance_mm,
            0.01 if noisy else np.inf,
            QUIET if noisy else 1.0,
            12 if noisy else 3,
            12 if noisy else 8,
            3 * _noise_mm(f) if noisy else 0.0,
            30.0 if noisy else 12.0,
            2 * f.diagonal_mm,
            np.array([12, 40] if noisy else [2, 8]),
            first,
        )
    )


def _exact_rounds(f: Facets, owner: Index) -> list[Round]:
    """Grow exact rounds, drop chains of them; ``owner`` gets their numbers, -1 elsewhere."""
    count = _grow_rounds(f, owner, 0, noisy=False)
    rounds = [fit(f, facets) for facets in _groups(owner, 0, count)]
    chained = _chains(f, owner, rounds)
    least = _least_mm(f)
    keep = [
        r
        for i, r in enumerate(rounds)
        if r is not None and not chained[i] and min(r.slant_mm, 2 * r.model[6]) > least
    ]
    owner[:] = -1
    _number(owner, [r.core for r in keep], 0)
    kept = [keep[i] for i in np.flatnonzero(_free_share(f, owner, len(keep)) < 0.6)]
    owner[:] = -1
    _number(owner, [r.core for r in kept], 0)
    room = np.empty(f.count, np.int64)
    return [with_cut_strips(f, r, owner, i, 2 * f.tolerance_mm, room) for i, r in enumerate(kept)]


def _number(owner: Index, groups: list[Index], first: int) -> None:
    for i, facets in enumerate(groups):
        owner[facets] = first + i


def _chains(f: Facets, owner: Index, rounds: list[Round | None]) -> NDArray[np.bool_]:
    """Tell which rounds are rings of a chain: rim to rim, smoothly bent, alike in length."""
    n = len(rounds)
    out = np.zeros(n, bool)
    if not n:
        return out
    slant = np.array([r.slant_mm if r else 0.0 for r in rounds])
    axes = np.array([r.model[3:6] if r else np.zeros(3) for r in rounds])
    one = _one_of_each(f)
    a, b = owner[one], owner[f.near]
    step = f.facet_centres[f.near] - f.facet_centres[one]
    along = np.abs(np.einsum("ij,ij->i", step, axes[a])) > 0.5 * np.linalg.norm(step, axis=1)
    link = (a >= 0) & (b >= 0) & (a != b) & along & (f.near_deg < SOFT_DEG)
    link &= np.maximum(slant[a], slant[b]) < LIKE * np.minimum(slant[a], slant[b])
    graph = coo_matrix((np.ones(link.sum()), (a[link], b[link])), shape=(n, n))
    _, chain = connected_components(graph, directed=False)
    return np.asarray(np.bincount(chain)[chain] >= CHAIN)


def _free_share(f: Facets, owner: Index, count: int, own: int = 0, least_deg: float = FLAT_DEG) -> Floats:
    """Share of each group's outline that runs smoothly into like facets of no group.

    Like: not much smaller than the group, nor much larger than its own facets (a flat beside a rounding).
    High for a piece cut at random out of a free-form surface, low for a true flat or round.
    """
    one = _one_of_each(f)
    a, b = owner[one] - own, owner[f.near] - own
    rim = (a >= 0) & (a != b)
    a, b, near = a[rim], b[rim], f.near[rim]
    mm, deg = f.near_mm[rim], f.near_deg[rim]
    total = summed(a, mm, count)
    inside = summed(owner[owner >= own] - own, f.facet_areas[owner >= own], count)
    size = _inner_radius(f.facet_areas, f.rim_mm)[near]
    mine = owner >= own
    facets = np.bincount(owner[mine] - own, minlength=count)
    step = np.bincount(owner[mine] - own, _inner_radius(f.facet_areas, f.rim_mm)[mine], count)
    alike = (0.2 * _inner_radius(inside, total)[a] < size) & (size < LIKE * (step / np.maximum(facets, 1))[a])
    free = (owner[near] < 0) & (deg > least_deg) & (deg < SOFT_DEG) & alike
    return np.asarray(np.bincount(a, mm * free, count) / np.where(total > 0, total, 1.0))


def _least_mm(f: Facets) -> float:
    return min(LEAST_MM, 0.01 * f.diagonal_mm)


def _noise_mm(f: Facets) -> float:
    return min(NOISE_MM, 1e-3 * f.diagonal_mm)


def _exact_flats(f: Facets, owner: Index, first: int) -> list[Index]:
    """Take single facets as flats; ``owner`` gets their numbers from ``first``."""
    one = _one_of_each(f)
    size = _inner_radius(f.facet_areas, f.rim_mm)
    alike = (0.2 * size[one] < size[f.near]) & (owner[f.near] < 0)
    smooth = alike & (f.near_deg < SOFT_DEG)
    rims = np.where(f.rim_mm > 0, f.rim_mm, 1.0)
    large = (owner < 0) & (size > _least_mm(f) / 2)
    flats = large & (np.bincount(one, f.near_mm * smooth, f.count) < 0.5 * rims)
    # A second look: a large flat beside a small one is no free-form surface.
    smooth &= ~(flats[f.near] & (size[f.near] > LIKE * size[one]))
    flats |= large & (np.bincount(one, f.near_mm * smooth, f.count) < 0.5 * rims)
    # A triangle of a rough scan stands alone among others that are no flats either.
    crumb = f.facet_areas[one] < CRUMB * f.facet_areas.sum()
    for _ in range(8):
        free = (owner[f.near] < 0) & ~flats[f.near] & (alike | crumb)
        alone = np.bincount(one, f.near_mm * free, f.count) > 0.7 * rims
        if not (flats & alone).any():
            break
        flats &= ~alone
    groups = [np.array([i]) for i in np.flatnonzero(flats)]
    _number(owner, groups, first)
    return groups


def _noisy(
    f: Facets, owner: Index, rounds: list[Round], flats: list[Index]
) -> tuple[list[Round], list[Index]]:
    """Find rounds and flats within caliper resolution in what is left."""
    base = len(rounds) + len(flats)
    count = _grow_rounds(f, owner, base, noisy=True) - base if len(f.faces) <= MAX_NOISY else 0
    share = _free_share(f, owner, count, base, 0.0)
    groups = _groups(owner, base, base + count)
    owner[owner >= base] = -1
    more = [r for i in np.flatnonzero(share < 0.5) if (r := fit(f, groups[i])) is not None]
    _number(owner, [r.core for r in more], base)
    room = np.empty(f.count, np.int64)
    more = [with_cut_strips(f, r, owner, base + i, _noise_mm(f), room) for i, r in enumerate(more)]
    base += len(more)
    corners = np.diff(f.corner_start)
    free = np.flatnonzero((owner < 0) & (corners >= 3))
    seeds = free[np.argsort(-f.facet_areas[free], kind="stable")]
    count = (
        find_flats(
            f.points,
            f.facet_normals,
            f.facet_areas,
            f.corner_start,
            f.corners,
            f.near_start,
            f.near,
            seeds,
            owner,
            _noise_mm(f),
            QUIET,
            np.cos(np.radians(10.0)),
            8,
            12,
            base,
        )
        - base
    )
    share = _free_share(f, owner, count, base, 0.0)
    level = [facets for i, facets in enumerate(_groups(owner, base, base + count)) if share[i] < 0.5]
    return rounds + more, flats + level


def _faces_of(f: Facets, owner: Index, count: int) -> list[Ints]:
    """Faces of the mesh in each of the numbered groups of facets, ascending; doubles go with their twins."""
    number = np.where(f.kept_as >= 0, owner[f.label[f.kept_as]], -1)
    return [faces.astype(np.int32) for faces in _groups(number, 0, count)]


def _round_patch(f: Facets, faces: Ints, r: Round, owner: Index) -> Patch:
    slope = float(r.model[7])
    share = turn(f, r)
    below, above = over_edges(f, r, owner) if share >= WHOLE_TURN and not slope else (0.0, 0.0)
    return Patch(
        kind="cone" if slope else "cylinder",
        faces=faces,
        centre_mm=r.model[:3] + f.origin + (above - below) / 2 * r.model[3:6],
        axis=r.model[3:6].copy(),
        diameter_mm=2 * float(r.model[6] + slope * r.length_mm / 2),
        length_mm=r.length_mm + below + above,
        width_mm=0.0,
        side="outside" if r.model[8] > 0 else "inside",
        area_mm2=float(f.facet_areas[r.facets].sum()),
        rms_mm=r.rms_mm,
        turn=share,
        straight_mm=r.length_mm,
        half_angle_deg=float(np.degrees(np.arctan(slope))),
    )


def _flat_patch(f: Facets, faces: Ints, facets: Index) -> Patch:
    weights = f.facet_areas[facets]
    area = float(weights.sum())
    centre = weights @ f.facet_centres[facets] / area
    normal = weights @ f.facet_normals[facets]
    normal /= np.linalg.norm(normal)
    length, width, rms = read_flat(f.points, f.faces[f.kept_as[faces]].reshape(-1), centre, normal)
    return Patch(
        kind="flat",
        faces=faces,
        centre_mm=centre + f.origin,
        axis=normal,
        diameter_mm=0.0,
        length_mm=length,
        width_mm=width,
        side="outside",
        area_mm2=area,
        rms_mm=rms,
        turn=1.0,
        straight_mm=length,
    )
