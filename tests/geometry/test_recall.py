"""A change redoes only what it reaches, and gives what starting afresh gives."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from housingdesk.geometry import band
from housingdesk.geometry.grid import PREFERRED, preferred_mm
from housingdesk.geometry.occupied import ByZone
from housingdesk.geometry.offset import sweep_cavity
from housingdesk.geometry.recall import Recall
from housingdesk.geometry.solid import Solid


def test_an_answer_is_found_again_only_from_the_same_arrays() -> None:
    recall, worked = Recall(), []

    def ask(*given: np.ndarray) -> int:
        return recall.answer("here", given, lambda: worked.append(given) or len(worked))

    one, two = np.zeros(3), np.array([0.0, 0.0, 1e-12])
    assert [ask(one), ask(one.copy()), ask(two), ask(two, one), ask(two, one), ask(one)] == [1, 1, 2, 3, 3, 4]


def test_what_is_no_longer_asked_is_forgotten() -> None:
    recall, worked = Recall(), []

    def ask(place: str) -> None:
        recall.answer(place, (np.zeros(1),), lambda: worked.append(place))

    ask("old")
    ask("kept")
    recall.forget_unasked()
    ask("kept")
    recall.forget_unasked()
    ask("kept")
    ask("old")
    assert worked == ["old", "kept", "old"]


@pytest.mark.parametrize("decade", [0.01, 0.1, 1.0, 10.0])
@pytest.mark.parametrize("number", PREFERRED)
def test_preferred_numbers(number: float, decade: float) -> None:
    """ISO 3, R10: ten numbers a decade, each rounded from a tenth root of ten (computed here)."""
    assert abs(number / 10 ** (PREFERRED.index(number) / 10) - 1) < 0.016
    size = number * decade
    assert preferred_mm(size, up=True) == pytest.approx(size, rel=1e-9)
    assert preferred_mm(size, up=False) == pytest.approx(size, rel=1e-9)
    assert preferred_mm(size * 1.05, up=False) == pytest.approx(size, rel=1e-9)
    assert preferred_mm(size * 0.95, up=True) == pytest.approx(size, rel=1e-9)


BODY = trimesh.creation.box((60, 20, 20))
SHAFT = trimesh.creation.cylinder(3, 14, sections=64).apply_transform(
    trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0], [0, 0, 0])
)
SHAFT.apply_translation([37, 0, 2])
TRIS = np.concatenate([np.asarray(m.vertices)[m.faces] for m in (BODY, SHAFT)])
ZONE = np.repeat(np.array([-1, 0], np.int32), [len(BODY.faces), len(SHAFT.faces)])


def cavity(body_mm: float, shaft_mm: float, recall: Recall | None, *, up: bool = True) -> Solid:
    reach = np.where(ZONE < 0, body_mm, shaft_mm)
    by_zone = None if recall is None else ByZone(ZONE, recall)
    return sweep_cavity(TRIS, reach, up=up, seal_mm=1.0, by_zone=by_zone)


@pytest.fixture
def looked_at(monkeypatch: pytest.MonkeyPatch) -> dict[str, list]:
    """What the two costly kernels are given: triangles (of the floor), slabs (of the crossings)."""
    seen: dict[str, list] = {"tris": [], "slabs": []}
    find_floor, enter = band.find_floor, band.enter

    def counted_floor(tris, *more):
        seen["tris"] += list(tris)
        return find_floor(tris, *more)

    def counted_enter(tris, reach, swept, origin, h, x_from, *more):
        seen["slabs"].append(x_from)
        return enter(tris, reach, swept, origin, h, x_from, *more)

    monkeypatch.setattr(band, "find_floor", counted_floor)
    monkeypatch.setattr(band, "enter", counted_enter)
    return seen


@pytest.mark.parametrize("up", [True, False])
def test_another_clearance_of_one_zone_looks_at_that_zone_alone(up: bool, looked_at: dict[str, list]) -> None:
    recall = Recall()
    cavity(1.0, 0.5, recall, up=up)
    all_slabs = set(looked_at["slabs"])
    looked_at["tris"].clear()
    looked_at["slabs"].clear()
    changed = cavity(1.0, 0.55, recall, up=up)
    looked = np.array(looked_at["tris"])
    assert len(looked) and looked[..., 0].min() >= BODY.bounds[1, 0] - 1e-9  # the shaft, nothing of the body
    assert 0 < len(set(looked_at["slabs"])) < len(all_slabs) / 2
    afresh = cavity(1.0, 0.55, None, up=up)
    assert np.array_equal(changed.mesh().vertices, afresh.mesh().vertices)
    assert np.array_equal(changed.mesh().faces, afresh.mesh().faces)


@pytest.mark.parametrize(
    "way", [((1.0, 0.5), (1.2, 0.5)), ((0.3, 0.3), (2.0, 0.3)), ((0.6, 1.5), (0.6, 0.1))]
)
def test_however_the_clearances_change_the_cavity_is_that_of_a_fresh_start(way) -> None:
    recall = Recall()
    for body_mm, shaft_mm in (*way, way[0]):
        changed, afresh = cavity(body_mm, shaft_mm, recall), cavity(body_mm, shaft_mm, None)
        assert np.array_equal(changed.mesh().vertices, afresh.mesh().vertices)
        assert np.array_equal(changed.mesh().faces, afresh.mesh().faces)
