"""Halves for the proof tests, made with trimesh and its solid kernel: nothing of the engine is used."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import trimesh

from housingdesk.geometry.types import Mesh, Side
from housingdesk.proof.subject import Subject
from housingdesk.spec.models import HousingSide


def mesh(solid: trimesh.Trimesh) -> Mesh:
    return Mesh(solid.vertices, solid.faces)


def block(low: Sequence[float], high: Sequence[float]) -> trimesh.Trimesh:
    return trimesh.creation.box(bounds=[low, high])


def minus(body: trimesh.Trimesh, *tools: trimesh.Trimesh) -> trimesh.Trimesh:
    return trimesh.boolean.difference([body, *tools], engine="manifold")


def common(*bodies: trimesh.Trimesh) -> trimesh.Trimesh:
    return trimesh.boolean.intersection(list(bodies), engine="manifold")


def both(*bodies: trimesh.Trimesh) -> trimesh.Trimesh:
    return trimesh.boolean.union(list(bodies), engine="manifold")


def subject(
    part: trimesh.Trimesh,
    cavity: trimesh.Trimesh,
    outer: Sequence[Sequence[float]],
    *,
    parting: float,
    clearance: float,
    wall: float,
    fixed: tuple[HousingSide, ...] = (),
    notes: tuple[str, ...] = (),
    relief: float = 0.0,
    **instead: trimesh.Trimesh,
) -> Subject:
    """Return a housing cut from a block; ``lower=`` or ``upper=`` puts another body in a half's place."""
    low, high = np.asarray(outer, float)
    shell = minus(block(low, high), cavity)
    halves: dict[Side, Mesh] = {
        "lower": mesh(instead.get("lower", common(shell, block(low, [*high[:2], parting])))),
        "upper": mesh(instead.get("upper", common(shell, block([*low[:2], parting], high)))),
    }
    return Subject(
        parts=(mesh(part),),
        halves=halves,
        parting_z_mm=parting,
        outer_mm=np.array([low, high]),
        clearance_mm=clearance,
        joined=True,
        wall_mm=wall,
        relief_mm3={"lower": relief, "upper": relief},
        overlap_mm3=0.0,
        bodies={"lower": 1, "upper": 1},
        notes=notes,
        fixed_sides=fixed,
    )


def boxed(clearance: float = 1.0, wall: float = 2.0, asked: float | None = None, **more: object) -> Subject:
    """Return a 20 x 30 x 15 mm block housed with ``clearance`` all round; ``asked`` where that differs."""
    c = clearance
    part = block([-10, -15, 0], [10, 15, 15])
    cavity = block([-10 - c, -15 - c, -c], [10 + c, 15 + c, 15 + c])
    o = c + wall
    outer = [[-10 - o, -15 - o, -o], [10 + o, 15 + o, 15 + o]]
    return subject(
        part, cavity, outer, parting=7.0, clearance=c if asked is None else asked, wall=wall, **more
    )  # type: ignore[arg-type] # options pass through
