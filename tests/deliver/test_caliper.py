from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from housingdesk.deliver.caliper import measure_report, measure_table
from housingdesk.geometry.types import Mesh


def _tube() -> Mesh:
    solid = trimesh.creation.annulus(2, 5, 10, sections=40)
    return Mesh(solid.vertices, solid.faces)


def test_report_has_the_fields_of_the_contract_in_plain_numbers() -> None:
    report = json.loads(json.dumps(measure_report(_tube())))
    assert set(report) == {"size_mm", "cylinders", "cones", "flats"}
    np.testing.assert_allclose(report["size_mm"], [10, 10, 10], atol=1e-9)
    outer, inner = report["cylinders"]
    assert set(outer) == {"axis", "centre_mm", "diameter_mm", "length_mm", "rms_mm", "side"}
    assert (outer["side"], inner["side"]) == ("outside", "inside")
    np.testing.assert_allclose([outer["diameter_mm"], inner["diameter_mm"]], [10, 4], atol=0.01)
    np.testing.assert_allclose(outer["axis"], [0, 0, 1], atol=1e-9)
    assert [set(f) for f in report["flats"]] == [{"normal", "centre_mm", "area_mm2", "rms_mm"}] * 2
    assert sorted(f["normal"][2] for f in report["flats"]) == pytest.approx([-1, 1])


def test_table_shows_the_figures_and_counts_the_rest() -> None:
    text = measure_table(measure_report(_tube()))
    assert "root mean square" in text  # what the columns mean
    assert "10.00   10.00  outside      z" in text
    report = measure_report(_tube())
    report["flats"] *= 20
    assert "and 10 smaller; --all lists them" in measure_table(report)
    whole = measure_table(report, whole=True)
    assert "smaller" not in whole
    assert whole.count(" +z ") + whole.count(" -z ") == 40
    empty = measure_table({"size_mm": [1.0, 1.0, 1.0], "cylinders": [], "cones": [], "flats": []})
    assert "Flats: none" in empty


def test_a_cone_is_read_at_its_wide_end_with_its_angle() -> None:
    body = trimesh.creation.revolve([(0, 0), (10, 0), (5, 20), (0, 20)], sections=64)
    report = measure_report(Mesh(body.vertices, body.faces))
    (cone,) = report["cones"]
    assert cone["diameter_mm"] == pytest.approx(20.0, abs=0.01)
    assert cone["half_angle_deg"] == pytest.approx(np.degrees(np.arctan(5 / 20)), abs=0.01)
    assert cone["axis"][2] == pytest.approx(-1.0, abs=1e-6)
    assert "14.0°" in measure_table(report)


def _part(folder: Path, name: str, scale: float) -> Mesh:
    found = trimesh.load(folder / name, force="mesh", process=False)
    return Mesh(found.vertices * scale, found.faces)


@pytest.mark.shared
def test_round_cell_is_18_by_65(shared_parts: Path) -> None:
    """Named 18650: 18 mm diameter, 65.0 mm long (IEC 61960 designation, from memory)."""
    (cell,) = measure_report(_part(shared_parts, "battery_18650_cell_metres.stl", 1000))["cylinders"]
    assert cell["diameter_mm"] == pytest.approx(18, abs=0.01)
    assert cell["length_mm"] == pytest.approx(65, abs=0.01)
    assert cell["side"] == "outside"


@pytest.mark.shared
@pytest.mark.parametrize(
    ("step", "stl", "scale"),
    [
        ("servo_sts3215.step", "servo_sts3215_metres.stl", 1000),
        ("units_featuretype.step", "units_featuretype_inches.stl", 25.4),
    ],
)
def test_twins_agree(shared_parts: Path, step: str, stl: str, scale: float) -> None:
    """One part written twice, cut into other triangles: the ten largest rounds agree."""
    one, two = (measure_report(_part(shared_parts, n, s)) for n, s in ((step, 1000), (stl, scale)))
    for a, b in ((one, two), (two, one)):
        main = a["cylinders"][:10]
        assert len(main) == 10
        for c in main:
            same = [
                d
                for d in b["cylinders"]
                if abs(d["diameter_mm"] - c["diameter_mm"]) < 0.01
                and abs(d["length_mm"] - c["length_mm"]) < 0.01
                and abs(np.dot(d["axis"], c["axis"])) > 1 - 1e-6
                and np.linalg.norm(np.subtract(d["centre_mm"], c["centre_mm"])) < 0.02
                and d["side"] == c["side"]
            ]
            assert same, c
