"""How fast and how true ``geometry.offset.grow`` is beside three outside ways, all in one run.

    python -m tests.bench.offset              the whole table (some minutes)
    python -m tests.bench.offset --ours       our own rows and the memory only

Every way grows the reference part by 1 mm.  Its error is measured afterwards, the same for all: exact
distance (libigl) of the result's corners and of 50,000 points on its surface to the part, less 1 mm.  Each
outside way is tried from coarse to fine until it is as true as ours by two measures: what 99 % of the points
keep to, and the greatest error; for each the quickest that is so is compared.  Seconds depend on the machine;
the ratios are what the table is for.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import igl
import manifold3d as m3
import numpy as np
import pymeshlab
import trimesh
from scipy import ndimage

from housingdesk.geometry import offset
from housingdesk.geometry.grid import grid_for
from housingdesk.geometry.surface import surface
from housingdesk.geometry.types import Floats, Mesh
from tests.reference import REFINED, gear_motor, refined

CLEARANCE_MM = 1.0
TOLERANCE_MM = 0.02
LARGE_MM, LARGE_GRID_MM = (300.0, 200.0, 150.0), 0.25
PATIENCE_S = 120.0  # a way that takes longer is not tried finer

Surface = tuple[np.ndarray, np.ndarray]


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    way: str
    seconds: float
    triangles: int
    errors_mm: Floats

    @property
    def within_mm(self) -> float:
        """How near to the clearance 99 % of the points are."""
        return float(np.quantile(np.abs(self.errors_mm), 0.99))

    @property
    def greatest_mm(self) -> float:
        """How far the worst point is from the clearance."""
        return float(np.abs(self.errors_mm).max())

    def line(self, ours: Row) -> str:
        e = self.errors_mm
        return (
            f"| {self.way} | {self.seconds:.3f} | {self.seconds / ours.seconds:.1f} | {self.triangles:,} "
            f"| {e.min():+.3f} / {e.mean():+.4f} / {e.max():+.3f} | {self.within_mm:.4f} |"
        )


HEAD = (
    "| way | seconds | times ours | triangles | error min / mean / max mm | 99 % within mm |\n"
    "| --- | --- | --- | --- | --- | --- |"
)


def errors(surface: Surface, part: Mesh) -> Floats:
    """Exact distance of a surface to the part, less the clearance, mm."""
    vertices, faces = surface
    points, _ = trimesh.sample.sample_surface(trimesh.Trimesh(vertices, faces, process=False), 50_000, seed=3)
    points = np.vstack([vertices[np.unique(faces)], points])
    squared, _, _ = igl.point_mesh_squared_distance(points, part.vertices, part.faces.astype(np.int64))
    return np.sqrt(squared) - CLEARANCE_MM


def timed(way: str, run: Callable[[], Surface], part: Mesh, repeat: int) -> Row:
    """Run a way, keep its best time and measure what it made."""
    best = np.inf
    for _ in range(repeat):
        start = time.perf_counter()
        surface = run()
        best = min(best, time.perf_counter() - start)
    return Row(way, best, len(surface[1]), errors(surface, part))


# --- the ways ---------------------------------------------------------------------------------------


def ours(part: Mesh) -> Surface:
    return offset.grow(part.vertices, part.faces, CLEARANCE_MM, TOLERANCE_MM)


def resampled(part: Mesh, cell_mm: float, multisample: bool) -> Surface:
    work = pymeshlab.MeshSet()
    work.add_mesh(pymeshlab.Mesh(part.vertices, part.faces))
    work.generate_resampled_uniform_mesh(
        cellsize=pymeshlab.PureValue(cell_mm),
        offset=pymeshlab.PureValue(CLEARANCE_MM),
        multisample=multisample,
    )
    made = work.current_mesh()
    return made.vertex_matrix(), made.face_matrix()


def signed_distance(part: Mesh, cell_mm: float) -> Surface:
    low = part.bounds[0] - CLEARANCE_MM - 2 * cell_mm
    counts = np.ceil((part.size_mm + 2 * CLEARANCE_MM + 4 * cell_mm) / cell_mm).astype(int) + 1
    axes = [low[i] + cell_mm * np.arange(counts[i]) for i in range(3)]
    z, y, x = np.meshgrid(axes[2], axes[1], axes[0], indexing="ij")
    nodes = np.ascontiguousarray(np.stack([x, y, z], -1).reshape(-1, 3))
    band = CLEARANCE_MM + 2 * cell_mm
    field, _, _, _ = igl.signed_distance(
        nodes, part.vertices, part.faces.astype(np.int64), lower_bound=-band, upper_bound=band
    )
    # Beyond the band it says NaN: far outside where that reaches the first node, deep inside elsewhere.
    field = field.reshape(counts[::-1])
    far, _ = ndimage.label(np.isnan(field))
    field = np.where(far > 0, np.where(far == far[0, 0, 0], band, -band), field).reshape(-1)
    vertices, faces, _ = igl.marching_cubes(field, nodes, *(int(n) for n in counts), CLEARANCE_MM)
    return vertices, faces


def minkowski(part: Mesh, segments: int) -> Surface:
    solid = m3.Manifold(m3.Mesh64(np.array(part.vertices), np.array(part.faces, np.uint64, order="C")))
    made = solid.minkowski_sum(m3.Manifold.sphere(CLEARANCE_MM, segments)).to_mesh64()
    return np.asarray(made.vert_properties[:, :3]), np.asarray(made.tri_verts, np.int64)


def ladders(part: Mesh) -> Iterator[list[tuple[str, Callable[[], Surface]]]]:
    """Yield each outside way from coarse to fine."""
    cells = (0.5, 0.35, 0.25, 0.18, 0.125)
    yield [(f"pymeshlab resampled offset, {c} mm", lambda c=c: resampled(part, c, False)) for c in cells]
    yield [(f"pymeshlab, multisample, {c} mm", lambda c=c: resampled(part, c, True)) for c in cells]
    yield [(f"libigl signed distance, {c} mm", lambda c=c: signed_distance(part, c)) for c in cells]
    segments = (12, 16, 24, 32, 48)
    yield [(f"manifold3d Minkowski sum, sphere of {n}", lambda n=n: minkowski(part, n)) for n in segments]


# --- the tables -----------------------------------------------------------------------------------------


def compare(part: Mesh, mine: Row) -> None:
    """Print the outside ways beside ours."""
    measures: dict[str, Callable[[Row], float]] = {
        "99 % of the points": lambda row: row.within_mm,
        "the greatest error": lambda row: row.greatest_mm,
    }
    quickest: dict[str, Row] = {}
    for ladder in ladders(part):
        for name, run in ladder:
            row = timed(name, run, part, repeat=1)
            print(row.line(mine), flush=True)
            true = [name for name, error in measures.items() if error(row) <= error(mine)]
            for name in true:
                if name not in quickest or row.seconds < quickest[name].seconds:
                    quickest[name] = row
            if len(true) == len(measures) or row.seconds > PATIENCE_S:
                break
    print()
    for name in measures:
        if name in quickest:
            row = quickest[name]
            print(f"Quickest as true by {name}: {row.way}, {row.seconds / mine.seconds:.1f} times ours.")
        else:
            print(f"No outside way was as true by {name} within its patience.")


def growth(part: Mesh) -> None:
    """Print our own way on the same surface in more and more triangles."""
    print("\n| triangles in | seconds | times the row above | triangles times the row above |")
    print("| --- | --- | --- | --- |")
    above: tuple[int, float] | None = None
    for count in (part.triangles, *REFINED):
        mesh = part if count == part.triangles else refined(part, count)
        seconds = timed("ours", lambda mesh=mesh: ours(mesh), part, repeat=3).seconds
        ratios = f"{seconds / above[1]:.2f} | {count / above[0]:.2f}" if above else "- | -"
        print(f"| {count:,} | {seconds:.3f} | {ratios} |", flush=True)
        above = (count, seconds)


def peak_mb() -> float:
    """Most memory this process has held, MB (Linux counts in KB, macOS in bytes)."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def grow_large() -> None:
    """Grow a large part at a stated grid and print the peak memory before and after; in its own process."""
    part = gear_motor()
    part = part.moved(np.diag([*(np.array(LARGE_MM) / part.size_mm), 1.0]))
    ours(gear_motor())  # compiled code is loaded before the count begins
    before = peak_mb()
    grid = grid_for(part.bounds, CLEARANCE_MM, LARGE_GRID_MM)
    tris = part.vertices[part.faces]
    points, faces = surface(tris, np.full(len(tris), CLEARANCE_MM), grid=grid)
    offset.without_hollows(points, faces, TOLERANCE_MM / 4)
    nodes = int(np.prod(grid.counts))
    print(f"| {nodes / 1e6:.0f} million nodes | {before:.0f} | {peak_mb():.0f} |")


def memory() -> None:
    """Print the memory table."""
    print(f"\nA part of {' x '.join(f'{s:.0f}' for s in LARGE_MM)} mm at a grid of {LARGE_GRID_MM} mm:\n")
    print("| grid | MB before | MB at most |\n| --- | --- | --- |", flush=True)
    subprocess.run([sys.executable, "-m", "tests.bench.offset", "--large"], check=True)


def main() -> None:
    """Print the tables."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--ours", action="store_true", help="leave the outside ways out")
    ask.add_argument("--large", action="store_true", help=argparse.SUPPRESS)
    choice = ask.parse_args()
    if choice.large:
        grow_large()
        return
    part = gear_motor()
    ours(part)  # compiled once, not counted
    mine = timed("ours", lambda: ours(part), part, repeat=7)
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, {part.triangles} triangles.\n")
    print(f"{HEAD}\n{mine.line(mine)}", flush=True)
    if not choice.ours:
        compare(part, mine)
    growth(part)
    memory()


if __name__ == "__main__":
    main()
