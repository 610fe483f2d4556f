"""The output folder: the halves, both in one 3MF, the proof, and the parts it speaks of."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping
from dataclasses import asdict
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np

from housingdesk.build.results import BuildResult, HalfFacts, ZoneFacts
from housingdesk.deliver.bill import parts_csv
from housingdesk.deliver.names import BOTH, LOWER, PARTS_LIST, PROOF, UPPER, part_file
from housingdesk.deliver.pose import Pose, print_pose, side_by_side
from housingdesk.files.atomic import staged_folder
from housingdesk.files.write import write_3mf, write_ply, write_stl
from housingdesk.finding import Finding
from housingdesk.geometry.freedom import Play
from housingdesk.geometry.types import SIDES, Mesh, Side
from housingdesk.proof.facts import PlayFacts
from housingdesk.proof.fasteners import Slices, as_measured
from housingdesk.spec.models import PartSpec

GAP_MM = 10.0  # between the halves on one bed (common practice, no source)
_LIBRARIES = ("housingdesk", "manifold3d", "libigl", "numpy", "scipy", "numba", "lib3mf")


def write_outputs(
    folder: Path,
    result: BuildResult,
    pose: Pose,
    meshes: Mapping[str, Mesh],
    versions: Mapping[str, str] | None = None,
    *,
    replace: bool = True,
) -> tuple[Path, ...]:
    """Write ``lower.stl``, ``upper.stl``, ``halves.3mf``, ``proof.json``, one PLY a part, and a parts list.

    The list ``parts.csv`` is left out where there is nothing to buy.

    All appear together or not at all; other files in the folder are not touched.

    Parameters
    ----------
    folder : made when it is missing.
    result : of final quality, with facts.
    pose : "print" lays each half on its flat outside face, centred, and in the 3MF side by side;
        "assembled" leaves them in the build frame.  ``proof.json`` is in the build frame always.
    meshes : the parts as read, in file units, by ``mesh_key``.
    versions : what made this, by name; None asks the installed packages.
    replace : whether files of these names that are there already may be replaced.

    Returns
    -------
    The files written.

    Raises
    ------
    FileError : the folder cannot be written, or holds such files that may not be replaced.
    """
    if result.facts is None:
        raise ValueError("only a final result has facts to write")
    part_files = [part_file(i) for i in range(1, len(result.spec.parts) + 1)]
    posed = {side: _posed(result, side, pose) for side in SIDES}
    lower, upper = posed["lower"], posed["upper"]
    if pose == "print":
        lower, upper = side_by_side(lower, upper, GAP_MM)
    with staged_folder(folder, replace=replace) as staged:
        triangles = {
            side: write_stl(staged / name, posed[side], f"{result.spec.name}, {side} half")
            for side, name in zip(SIDES, (LOWER, UPPER), strict=True)
        }
        write_3mf(staged / BOTH, {"lower half": lower, "upper half": upper})
        for file, part in zip(part_files, result.spec.parts, strict=True):
            write_ply(staged / file, meshes[part.mesh_key])
        proof = proof_document(result, result.facts, triangles, part_files, versions or installed_versions())
        text = json.dumps(proof, indent=1, ensure_ascii=False, allow_nan=False)
        (staged / PROOF).write_text(text + "\n", encoding="utf-8")
        bill = parts_csv(result.bill)
        if bill:
            (staged / PARTS_LIST).write_text(bill, encoding="utf-8", newline="")
    names = [LOWER, UPPER, BOTH, PROOF, *part_files]
    if bill:
        names.append(PARTS_LIST)
    elif replace:  # one of an earlier run would ask for what is not needed
        (folder / PARTS_LIST).unlink(missing_ok=True)
    return tuple(folder / name for name in names)


def proof_document(
    result: BuildResult,
    facts: Mapping[Side, HalfFacts],
    triangles: Mapping[Side, int],
    part_files: list[str],
    versions: Mapping[str, str],
) -> dict[str, Any]:
    """Return the content of ``proof.json``; lengths in mm, places in the build frame.

    Parameters
    ----------
    triangles : of each half as written, where slivers of no volume are left out.
    """
    return {
        "parting_z_mm": result.parting_z_mm,
        "clearance_mm": result.spec.fit.least_mm,
        "wall_mm": result.spec.shell.least_wall_mm,
        "min_gap_mm": _finite(min(facts[side].min_gap_mm for side in SIDES)),
        "parts": [
            {"mesh": file, "to_build": part_to_build(part, result), "scale_mm": part.scale_mm}
            for file, part in zip(part_files, result.spec.parts, strict=True)
        ],
        "halves": {
            side: {"volume_mm3": facts[side].volume_mm3, "triangles": triangles[side]} for side in SIDES
        },
        "relief_mm3": {side: facts[side].relief_mm3 for side in SIDES},
        "zones": [_zone(zone) for zone in result.zones],
        "going_in": {
            side: {"relief_mm3": facts[side].relief_mm3, "clear": facts[side].clear} for side in SIDES
        },
        "play": None if result.play is None else _play_of(result.play),
        "passages": [
            {"axis": list(p.axis), "centre_mm": list(p.centre_mm), "diameter_mm": p.diameter_mm}
            for p in result.passages
        ],
        "contacts": [
            {"centre_mm": list(c.centre_mm), "radius_mm": c.radius_mm}
            for made in result.features.values()
            for c in made.contacts
        ],
        "fasteners": _fasteners(result),
        "openings": [asdict(o) for made in result.features.values() for o in made.openings],
        "joints": [
            {"name": j.name, "kind": j.kind, **j.figures}
            for made in result.features.values()
            for j in made.joints
        ],
        "findings": [_finding(finding) for finding in result.findings],
        "versions": dict(versions),
    }


def _fasteners(result: BuildResult) -> list[dict[str, Any]]:
    """Return every screw with its figures as found on the finished halves."""
    slices = Slices(result.halves)
    designed = [f for made in result.features.values() for f in made.fasteners]
    return [asdict(as_measured(f, slices, result.parting_z_mm)) for f in designed]


def part_to_build(part: PartSpec, result: BuildResult) -> list[float]:
    """Return 16 numbers row-major: the map from the part frame (mm) to the build frame."""
    to_assembly = np.asarray(part.placement, float).reshape(4, 4)
    to_build = np.asarray(result.assembly_to_build, float).reshape(4, 4)
    return [float(x) for x in (to_build @ to_assembly).ravel()]


def installed_versions() -> dict[str, str]:
    """Return the versions of the program and of the libraries that made the halves."""
    found = {"python": ".".join(map(str, sys.version_info[:3]))}
    for name in _LIBRARIES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:  # run from a source tree that is not installed
            found[name] = "unknown"
    return found


def _posed(result: BuildResult, side: Side, pose: Pose) -> Mesh:
    half = result.halves[side]
    return print_pose(half, side, result.parting_z_mm) if pose == "print" else half


def _zone(zone: ZoneFacts) -> dict[str, Any]:
    return {
        "name": zone.name,
        "purpose": zone.purpose,
        "clearance_mm": zone.clearance_mm,
        "min_gap_mm": _finite(zone.min_gap_mm),
        "median_gap_mm": _finite(zone.median_gap_mm),
    }


def _play_of(facts: PlayFacts) -> dict[str, Any]:
    """Return the play of the loosest part, and where there are several that of each."""
    found: dict[str, Any] = dict(_play(facts.now))
    if facts.parts:
        found["parts"] = [{"name": one.part, **_play(one.now)} for one in facts.parts]
    return found


def _play(play: Play) -> dict[str, list[float | None]]:
    """Return each motion as [-, +]; null where no stop was met as far as was looked."""
    lengths, turns = ("x_mm", "y_mm", "z_mm"), ("turn_deg", "turn_x_deg", "turn_y_deg", "turn_z_deg")
    out: dict[str, list[float | None]] = {}
    for name in (*lengths, *turns):
        back, forth = play.stop(name, 0), play.stop(name, 1)
        out[name] = [None if back is None else -back, forth]
    return out


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "message": finding.message,
        "remedy": finding.remedy,
        "where_mm": None if finding.where_mm is None else [_finite(x) for x in finding.where_mm],
    }


def _finite(value: float) -> float | None:
    """JSON has no infinity: a figure that was not found is null."""
    return float(value) if math.isfinite(value) else None
