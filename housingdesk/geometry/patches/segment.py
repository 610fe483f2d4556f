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

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.patches.facets import FLAT_DEG, Facets, facets_of, summed
from housingdesk.geometry.patches.growing import find_rounds
from housingdesk.geometry.patches.levels import find_flats
from housingdesk.geometry.patches.net import Groups, grouped, of_groups
from housingdesk.geometry.patches.outlines import read_flats
from housingdesk.geometry.patches.patch import ABOUT_SQUARE, Patch, round_mm
from housingdesk.geometry.patches.rounds import Rounds, fitted, joined, numbers_of, together, with_cut_strips
from housingdesk.geometry.patches.sorting import components
from housingdesk.geometry.patches.spans import spans_of
from housingdesk.geometry.patches.strips import MAX_BEND_DEG
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
    _number(owner, whole.core, 0)
    _number(owner, whole.cut, 0)
    _number(owner, flats, len(whole))
    facets = grouped(owner, 0, len(whole) + len(flats.start) - 1)
    number = np.where(f.kept_as >= 0, owner[f.label[f.kept_as]], -1)  # doubles go with their twins
    faces = grouped(number, 0, len(facets.start) - 1)
    patches = [*_round_patches(f, faces, facets, whole, owner), *_flat_patches(f, faces, facets, len(whole))]
    return tuple(sorted(patches, key=lambda p: (-p.area_mm2, int(p.faces[0]))))


def _one_of_each(f: Facets) -> Index:
    """First facet of each entry of ``f.near``."""
    return np.repeat(np.arange(f.count), np.diff(f.near_start))


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
            f.net,
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


def _exact_rounds(f: Facets, owner: Index) -> Rounds:
    """Grow exact rounds, drop chains of them; ``owner`` gets their numbers, -1 elsewhere."""
    count = _grow_rounds(f, owner, 0, noisy=False)
    rounds = fitted(f, grouped(owner, 0, count))
    large = np.minimum(rounds.slant_mm, 2 * rounds.models[:, 6]) > _least_mm(f)
    rounds = rounds.kept((rounds.rms_mm >= 0) & ~_chains(f, owner, rounds) & large)
    owner[:] = -1
    _number(owner, rounds.core, 0)
    rounds = rounds.kept(_free_share(f, owner, len(rounds)) < 0.6)
    owner[:] = -1
    _number(owner, rounds.core, 0)
    return with_cut_strips(f, rounds, owner, 0, 2 * f.tolerance_mm)


def _number(owner: Index, groups: Groups, first: int) -> None:
    owner[groups.members] = first + numbers_of(groups)


def _chains(f: Facets, owner: Index, rounds: Rounds) -> NDArray[np.bool_]:
    """Tell which rounds are rings of a chain: rim to rim, smoothly bent, alike in length."""
    n = len(rounds)
    out = np.zeros(n, bool)
    if not n:
        return out
    fits = rounds.rms_mm >= 0
    slant = np.where(fits, rounds.slant_mm, 0.0)
    axes = np.where(fits[:, None], rounds.models[:, 3:6], 0.0)
    one = _one_of_each(f)
    a, b = owner[one], owner[f.near]
    step = f.facet_centres[f.near] - f.facet_centres[one]
    along = np.abs(np.einsum("ij,ij->i", step, axes[a])) > 0.5 * np.linalg.norm(step, axis=1)
    link = (a >= 0) & (b >= 0) & (a != b) & along & (f.near_deg < SOFT_DEG)
    link &= np.maximum(slant[a], slant[b]) < LIKE * np.minimum(slant[a], slant[b])
    _, chain = components(n, a[link], b[link])
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


def _exact_flats(f: Facets, owner: Index, first: int) -> Groups:
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
    which = np.flatnonzero(flats)
    groups = Groups(np.arange(len(which) + 1), which)
    _number(owner, groups, first)
    return groups


def _noisy(f: Facets, owner: Index, rounds: Rounds, flats: Groups) -> tuple[Rounds, Groups]:
    """Find rounds and flats within caliper resolution in what is left."""
    base = len(rounds) + len(flats.start) - 1
    if len(f.faces) <= MAX_NOISY:
        count = _grow_rounds(f, owner, base, noisy=True) - base
        firm = np.flatnonzero(_free_share(f, owner, count, base, 0.0) < 0.5)
        more = fitted(f, of_groups(grouped(owner, base, base + count), firm))
        more = more.kept(more.rms_mm >= 0)
        owner[owner >= base] = -1
        _number(owner, more.core, base)
        rounds = rounds.with_more(with_cut_strips(f, more, owner, base, _noise_mm(f)))
        base += len(more)
    free = np.flatnonzero((owner < 0) & (np.diff(f.corner_start) >= 3))
    seeds = free[np.argsort(-f.facet_areas[free], kind="stable")]
    count = find_flats(f.net, seeds, owner, _noise_mm(f), QUIET, np.cos(np.radians(10.0)), 8, 12, base) - base
    firm = np.flatnonzero(_free_share(f, owner, count, base, 0.0) < 0.5)
    return rounds, together(flats, of_groups(grouped(owner, base, base + count), firm))


def _round_patches(f: Facets, faces: Groups, facets: Groups, rounds: Rounds, owner: Index) -> list[Patch]:
    """Describe rounds; they are the first of the groups of ``faces`` of the mesh and of ``facets``."""
    models, lengths = rounds.models, rounds.length_mm
    turns, over = spans_of(f.net, models, lengths, facets, owner)
    centres = models[:, :3] + f.origin + ((over[:, 1] - over[:, 0]) / 2)[:, None] * models[:, 3:6]
    slopes = models[:, 7]
    diameters = 2 * (models[:, 6] + slopes * lengths / 2)
    areas = summed(numbers_of(facets), f.facet_areas[facets.members], len(facets.start) - 1)
    return [
        Patch(
            kind="cone" if slopes[i] else "cylinder",
            faces=_faces_of(faces, i),
            centre_mm=centres[i],
            axis=models[i, 3:6].copy(),
            diameter_mm=float(diameters[i]),
            length_mm=float(lengths[i] + over[i].sum()),
            width_mm=0.0,
            side="outside" if models[i, 8] > 0 else "inside",
            area_mm2=float(areas[i]),
            rms_mm=float(rounds.rms_mm[i]),
            turn=float(turns[i]),
            straight_mm=float(lengths[i]),
            half_angle_deg=float(np.degrees(np.arctan(slopes[i]))),
        )
        for i in range(len(rounds))
    ]


def _flat_patches(f: Facets, faces: Groups, facets: Groups, first: int) -> list[Patch]:
    """Describe flats; they are the groups from ``first`` of the ``faces`` of the mesh and of ``facets``."""
    rows = np.arange(first, len(facets.start) - 1)
    triangles = f.faces[f.kept_as]
    centres, normals, sizes = read_flats(f.net, triangles, of_groups(facets, rows), of_groups(faces, rows))
    areas = summed(numbers_of(facets), f.facet_areas[facets.members], len(facets.start) - 1)
    return [
        Patch(
            kind="flat",
            faces=_faces_of(faces, int(row)),
            centre_mm=centres[i] + f.origin,
            axis=normals[i].copy(),
            diameter_mm=0.0,
            length_mm=float(sizes[i, 0]),
            width_mm=float(sizes[i, 1]),
            side="outside",
            area_mm2=float(areas[row]),
            rms_mm=float(sizes[i, 2]),
            turn=1.0,
            straight_mm=float(sizes[i, 0]),
            round_mm=_round_flat_mm(f, _faces_of(faces, int(row)), normals[i], sizes[i]),
        )
        for i, row in enumerate(rows)
    ]


def _round_flat_mm(f: Facets, triangles: Ints, normal: Floats, size: Floats) -> float:
    """Return the diameter of a flat, given by its triangles, if its outline is a circle; else 0."""
    if size[1] < size[0] * ABOUT_SQUARE:  # most are not, and there may be thousands
        return 0.0
    kept = f.kept_as[triangles]
    corners = f.points[np.unique(f.faces[kept[kept >= 0]])]
    one = np.cross(normal, np.eye(3)[np.abs(normal).argmin()])
    one /= np.linalg.norm(one)
    flat = corners @ np.column_stack([one, np.cross(normal, one)])
    middle = (flat.min(axis=0) + flat.max(axis=0)) / 2
    return round_mm(flat - middle)


def _faces_of(faces: Groups, i: int) -> Ints:
    return faces.members[faces.start[i] : faces.start[i + 1]].astype(np.int32)
