"""The tables are found, whole, and refused when damaged."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from housingdesk.errors import FileError
from housingdesk.standards import (
    _data,
    bearings,
    cells,
    fits,
    glands,
    guards,
    iso286,
    iso2768,
    motors,
    pins,
    plastics,
    rails,
    screws,
)
from housingdesk.standards._data import Entry, Positive, parse

KINDS: dict[str, type[Entry]] = {
    "iso15": bearings.Bearing,
    "iso2795": bearings.Bush,
    "nema_faces": motors.MotorFace,
    "cable_glands": glands.Gland,
    "iec60715": rails.Rail,
    "cells": cells.Cell,
    "iso261_threads": screws.Thread,
    "iso273": screws.ClearanceHole,
    "iso2338": pins.Pin,
    "iso4762": screws.CapScrew,
    "iso7380": screws.ButtonScrew,
    "iso10642": screws.CountersunkScrew,
    "din7991": screws.CountersunkScrew,
    "iso7046": screws.CountersunkScrew,
    "iso4032": screws.HexNut,
    "din934": screws.HexNut,
    "iso4036": screws.HexNut,
    "iso7089": screws.Washer,
    "heat_inserts": screws.HeatInsert,
    "pilot_holes": screws.PilotRule,
    "iso888": screws._Length,
    "plastics": plastics.Plastic,
    "fits": fits.FitPreset,
    "processes": fits.ProcessSpread,
    "iso286": iso286.ItStep,
    "iso2768": iso2768.GeneralTolerance,
    "iso13857": guards.SafeDistance,
    "iec60529": guards.Probe,
}


def test_every_file_has_a_reader() -> None:
    assert {path.stem for path in _data.folder().glob("*.json")} == set(KINDS)


@pytest.mark.parametrize("stem", KINDS)
def test_every_figure_has_a_source_and_memory_is_said(stem: str) -> None:
    for row in _data.table(stem, KINDS[stem]).values():
        given = row.model_fields_set - {"name", "provenance"}
        assert given == {field for field, _ in row.provenance}
        for _, source in row.provenance:
            assert source.text
            assert source.from_memory == ("from memory" in source.text)
        hash(row)  # frozen all through


class Row(Entry):
    size_mm: Positive


def text(**changes: Any) -> str:
    good: dict[str, Any] = {
        "standard": "A", "title": "B", "sources": {"s": {"mark": "R", "text": "page"}},
        "columns": {"size_mm": "s"}, "rows": {"one": {"size_mm": 1.5}},
    }  # fmt: skip
    return json.dumps(good | changes)


def test_a_good_table_is_read() -> None:
    row = parse(text(), Row)["one"]
    assert row.size_mm == 1.5
    assert row.figure("size_mm").source.text == "page"


@pytest.mark.parametrize(
    "broken",
    [
        text()[:-20],
        "[]",
        text(rows={"one": {"size_mm": -1}}),
        text(rows={"one": {"size_mm": "wide"}}),
        text(rows={"one": {}}),
        text(rows={"one": {"size_mm": 1, "more": 2}}),
        text(columns={}),
        text(columns={"size_mm": "t"}),
        text(sources={"s": {"mark": "Z", "text": "page"}}),
        text(sources={"s": {"mark": "R", "text": ""}}),
        text(sources={"s": {"mark": "M", "text": "page"}}),
        text(sources={"s": {"mark": "R", "text": "from memory"}}),
        text(sources={"s": {"mark": "R", "text": "page"}, "unused": {"mark": "R", "text": "page"}}),
        text(exceptions={"two": {"size_mm": "s"}}),
        text(exceptions={"one": {"other_mm": "s"}}),
        text().replace("1.5", "NaN"),
        text().replace("1.5", "Infinity"),
    ],
)
def test_a_damaged_table_is_refused_in_one_sentence(
    broken: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "t.json").write_text(broken, "utf-8")
    monkeypatch.setattr(_data, "folder", lambda: tmp_path)
    with pytest.raises(FileError, match=r"t\.json is missing or damaged") as caught:
        _data.table("t", Row)
    assert "\n" not in str(caught.value)


def test_a_missing_table_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_data, "folder", lambda: tmp_path)
    with pytest.raises(FileError, match="install again"):
        _data.table("absent", Row)


def test_installed_tables_are_found_inside_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "site" / "housingdesk"
    inside = package / "_data" / "resources" / "standards"
    package.mkdir(parents=True)
    monkeypatch.setattr(_data.housingdesk, "__file__", str(package / "__init__.py"))
    assert _data.folder() == tmp_path / "site" / "resources" / "standards"
    inside.mkdir(parents=True)
    assert _data.folder() == inside
