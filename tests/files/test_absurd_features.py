"""Sizes of features that a project file must not have: each is refused in one sentence."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from housingdesk.errors import HousingError
from housingdesk.features.registry import kinds
from housingdesk.files.project import load_project
from housingdesk.spec.limits import bounds_of
from tests.files.test_project import edited

ABSURD: tuple[Any, ...] = (-1e9, 1e9, float("nan"), float("inf"), "wide", [1], None, True)


def numbers(kind: str) -> list[str]:
    """Return the fields of a kind that are numbers with limits."""
    fields = kinds()[kind].model_fields
    return [n for n, f in fields.items() if f.annotation in (int, float) and bounds_of(f.metadata)]


@pytest.mark.parametrize("kind", kinds())
def test_absurd_sizes_are_refused_in_one_sentence(kind: str, tmp_path: Path) -> None:
    project = edited(tmp_path / "p", lambda d: None)
    text = (project / "project.json").read_text(encoding="utf-8")
    for field in numbers(kind):
        for value in ABSURD:
            if value is True:
                continue  # a tick counts as 1 in some fields
            entry = {"kind": kind, "name": "Absurd", field: value}
            (project / "project.json").write_text(text, encoding="utf-8")
            path = _with_feature(project, entry)
            with pytest.raises(HousingError) as caught:
                load_project(path)
            said = str(caught.value)
            assert "\n" not in said and said.endswith("."), said
            assert "pydantic" not in said and "Traceback" not in said


@pytest.mark.parametrize("places", [[[1e308, 0.0]], [[float("nan"), 0.0]], [[1.0]], ["x"], [[0.0, 0.0]] * 99])
@pytest.mark.parametrize(
    ("kind", "field"), [("screws", "places_mm"), ("dowels", "places_mm"), ("hooks", "places_mm"),
                        ("wireway", "points_mm")]
)  # fmt: skip
def test_places_that_are_none_are_refused_in_one_sentence(
    kind: str, field: str, places: Any, tmp_path: Path
) -> None:
    path = _with_feature(edited(tmp_path / "p", lambda d: None), {"kind": kind, "name": "A", field: places})
    with pytest.raises(HousingError) as caught:
        load_project(path)
    assert "\n" not in str(caught.value)


def test_a_notch_far_outside_is_refused(tmp_path: Path) -> None:
    entry = {"kind": "notch", "name": "A", "at_mm": [1e12, 0.0]}
    with pytest.raises(HousingError, match="place of the notch must be at most 1000 mm"):
        load_project(_with_feature(edited(tmp_path / "p", lambda d: None), entry))


def _with_feature(path: Path, entry: dict[str, Any]) -> Path:
    import json

    document = json.loads((path / "project.json").read_text(encoding="utf-8"))
    document["spec"]["features"] = [entry]
    (path / "project.json").write_text(json.dumps(document), encoding="utf-8")
    return path
