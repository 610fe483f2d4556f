"""What calipers would read on a part: the answer of ``housingdesk measure``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from housingdesk.geometry.patches import Patch, find_patches
from housingdesk.geometry.types import Floats, Mesh

LINES = 30  # of each table; the smaller rest is counted
LEGEND = """\
along, facing  an axis of the file, or the direction as its shares of x, y and z
middle         where the middle of the face is in the file's coordinates, in mm
a side         of a cone: the angle between its axis and its side
spread         how far the file's points lie off that round or flat, in mm (root mean square)"""


def measure_report(mesh: Mesh) -> dict[str, Any]:
    """Measure a part.

    Parameters
    ----------
    mesh : the part in its file's frame, mm.

    Returns
    -------
    ``size_mm`` [x, y, z]; ``cylinders`` [{``axis``, ``centre_mm``, ``diameter_mm``, ``length_mm``,
    ``rms_mm``, ``side``: outside or inside}]; ``cones`` the same, the axis to the wide end and the diameter
    there, with ``half_angle_deg`` between axis and side; ``flats`` [{``normal``, ``centre_mm``,
    ``area_mm2``, ``rms_mm``}]; all largest area first, plain numbers throughout.
    """
    patches = find_patches(mesh)
    return {
        "size_mm": _numbers(mesh.size_mm),
        "cylinders": [_round(p) for p in patches if p.kind == "cylinder"],
        "cones": [_round(p) | {"half_angle_deg": p.half_angle_deg} for p in patches if p.kind == "cone"],
        "flats": [
            {
                "normal": _numbers(p.axis),
                "centre_mm": _numbers(p.centre_mm),
                "area_mm2": p.area_mm2,
                "rms_mm": p.rms_mm,
            }
            for p in patches
            if p.kind == "flat"
        ],
    }


def _round(patch: Patch) -> dict[str, Any]:
    return {
        "axis": _numbers(patch.axis),
        "centre_mm": _numbers(patch.centre_mm),
        "diameter_mm": patch.diameter_mm,
        "length_mm": patch.length_mm,
        "rms_mm": patch.rms_mm,
        "side": patch.side,
    }


def _numbers(vector: Floats) -> list[float]:
    return [float(x) + 0.0 for x in vector]  # + 0.0: no minus before a zero


def measure_table(report: dict[str, Any], *, whole: bool = False) -> str:
    """Lay a report out as tables to read, largest first, with what their columns mean.

    Parameters
    ----------
    whole : whether to list all; else the 30 largest of each kind.
    """
    most = None if whole else LINES
    lines: list[str] = []
    lines += _table(
        "Shafts, holes and rounded edges",
        ["Ø mm", "length", "", "along", "middle at x, y, z", "spread"],
        report["cylinders"],
        _round_cells,
        most,
    )
    lines += [""]
    if report["cones"]:
        lines += _table(
            "Cones and countersinks, measured at the wide end",
            ["Ø mm", "length", "", "along", "middle at x, y, z", "spread", "a side"],
            report["cones"],
            lambda c: [*_round_cells(c), f"{c['half_angle_deg']:.1f}°"],
            most,
        )
        lines += [""]
    lines += _table(
        "Flats",
        ["mm2", "facing", "middle at x, y, z", "spread"],
        report["flats"],
        lambda f: [
            f"{f['area_mm2']:.1f}",
            _direction(f["normal"], signed=True),
            _place(f["centre_mm"]),
            f"{f['rms_mm']:.3f}",
        ],
        most,
    )
    if report["cylinders"] or report["cones"] or report["flats"]:
        lines += ["", LEGEND]
    return "\n".join(lines)


def _round_cells(row: dict[str, Any]) -> list[str]:
    return [
        f"{row['diameter_mm']:.2f}",
        f"{row['length_mm']:.2f}",
        row["side"],
        _direction(row["axis"]),
        _place(row["centre_mm"]),
        f"{row['rms_mm']:.3f}",
    ]


def _table(
    title: str,
    heads: list[str],
    rows: list[dict[str, Any]],
    cells: Callable[[dict[str, Any]], list[str]],
    most: int | None,
) -> list[str]:
    if not rows:
        return [f"{title}: none"]
    table = [heads] + [cells(row) for row in rows[:most]]
    widths = [max(len(line[i]) for line in table) for i in range(len(heads))]
    out = [f"{title} ({len(rows)})"]
    out += [
        "  " + "  ".join(c.rjust(w) for c, w in zip(line, widths, strict=True)).rstrip() for line in table
    ]
    if len(rows) > len(table) - 1:
        out.append(f"  and {len(rows) - len(table) + 1} smaller; --all lists them")
    return out


def _place(point: list[float]) -> str:
    return " ".join(f"{round(v, 2) + 0.0:8.2f}" for v in point)


def _direction(axis: list[float], *, signed: bool = False) -> str:
    """Name an axis of the file where it is one, else the three components."""
    for name, value in zip("xyz", axis, strict=True):
        if abs(value) > 1 - 1e-9:
            return (("+" if value > 0 else "-") if signed else "") + name
    return " ".join(f"{round(v, 3) + 0.0:.3f}" for v in axis)
