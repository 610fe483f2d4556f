"""The whole job with screws and a lip: from a part's file to halves, proof.json and parts.csv."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from housingdesk.cli import MADE, NOT_MADE, main
from tests.features.gauges import hits_along
from tests.features.slices import bore_at


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("joined")
    part = trimesh.creation.box((40.0, 26.0, 20.0))
    part.export(folder / "block.stl")
    out = folder / "out"
    asked = ["--clearance", "0.6", "--wall", "2.4", "--screws", "M3x4:insert", "--lip", "--pose", "assembled"]
    assert main(["make", str(folder / "block.stl"), "--out", str(out), "--unit", "mm", *asked]) == MADE
    return out


def test_every_fastener_is_where_proof_json_says(made: Path) -> None:
    proof = json.loads((made / "proof.json").read_text(encoding="utf-8"))
    halves = {side: trimesh.load(made / f"{side}.stl", force="mesh") for side in ("lower", "upper")}
    assert len(proof["fasteners"]) == 4
    for f in proof["fasteners"]:
        assert set(f) == {
            "size", "kind", "axis_mm", "clear_hole_mm", "pilot_or_insert_hole_mm", "head_hole_mm",
            "head_depth_mm", "length_mm", "engagement_mm", "least_wall_mm", "hole_correction_mm",
        }  # fmt: skip
        (x, y, seat), (_, _, tip) = f["axis_mm"]
        z = proof["parting_z_mm"]
        assert bore_at(halves["upper"], (x, y), (z + seat) / 2)[0] == pytest.approx(
            f["clear_hole_mm"], abs=0.05
        )
        # Under the lip's height the hole is the insert's: 4.0 mm, and 0.2 mm that printed holes lack.
        insert = bore_at(halves["lower"], (x, y), z - 1.0)[0]
        assert insert == pytest.approx(f["pilot_or_insert_hole_mm"], abs=0.05)
        assert insert == pytest.approx(4.2, abs=0.05)
        assert f["clear_hole_mm"] == pytest.approx(3.4 + 0.2, abs=0.05)  # ISO 273 medium
        assert bore_at(halves["upper"], (x, y), seat + 0.5)[0] == pytest.approx(f["head_hole_mm"], abs=0.05)
        beside = (f["clear_hole_mm"] + f["head_hole_mm"]) / 4
        assert hits_along(halves["upper"], (x, y), beside).max() == pytest.approx(seat, abs=0.05)
        assert halves["upper"].bounds[1, 2] - seat == pytest.approx(f["head_depth_mm"], abs=0.05)
        assert seat - tip == pytest.approx(f["length_mm"], abs=1e-6)
        assert f["engagement_mm"] >= 4.0
        assert f["least_wall_mm"] >= 1.15
    codes = {f["code"]: f["severity"] for f in proof["findings"]}
    assert codes["screws"] == codes["joints-clear"] == codes["halves-meet"] == "pass"
    assert "fail" not in codes.values()


def test_the_lip_is_told_with_its_figures(made: Path) -> None:
    proof = json.loads((made / "proof.json").read_text(encoding="utf-8"))
    (lip,) = proof["joints"]
    assert (lip["kind"], lip["gap_mm"]) == ("lip", 0.2)
    lower = trimesh.load(made / "lower.stl", force="mesh")
    assert lower.bounds[1, 2] - proof["parting_z_mm"] == pytest.approx(lip["height_mm"], abs=1e-3)
    assert proof["openings"] == []


def test_parts_csv_lists_what_to_buy(made: Path) -> None:
    rows = list(csv.DictReader((made / "parts.csv").read_text(encoding="utf-8").splitlines()))
    proof = json.loads((made / "proof.json").read_text(encoding="utf-8"))
    length = proof["fasteners"][0]["length_mm"]
    assert [(r["count"], r["what"], r["standard"]) for r in rows] == [
        ("4", f"socket head cap screw M3 x {length:g}", "ISO 4762"),
        ("4", "heat-set insert M3, 5.7 mm long, for a printed hole of 4 mm", ""),
    ]


def test_without_anything_to_buy_an_old_list_goes(made: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "parts.csv").write_text("old\n", encoding="utf-8")
    part = made.parent / "block.stl"
    assert (
        main(["make", str(part), "--out", str(tmp_path / "out"), "--unit", "mm", "--clearance", "0.6"])
        == MADE
    )
    assert not (tmp_path / "out" / "parts.csv").exists()


def test_a_wish_that_is_none_makes_nothing(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    part = made.parent / "block.stl"
    assert main(["make", str(part), "--out", str(tmp_path / "out"), "--screws", "four"]) == NOT_MADE
    said = capsys.readouterr().err.strip().splitlines()
    assert len(said) == 1
    assert "M3x4" in said[0]
    assert not (tmp_path / "out").exists()


def test_both_halves_are_closed_and_apart(made: Path) -> None:
    halves = [trimesh.load(made / f"{side}.stl", force="mesh") for side in ("lower", "upper")]
    assert all(half.is_watertight and half.volume > 0 for half in halves)
    both = trimesh.boolean.intersection(halves, engine="manifold")
    assert np.isclose(both.volume, 0.0, atol=1e-3)
