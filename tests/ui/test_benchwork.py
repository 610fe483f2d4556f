"""What is done on the bench becomes edits; a stand-in with the bench's signals, nothing is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QObject, Signal
from pytestqt.qtbot import QtBot

from housingdesk.finding import Finding
from housingdesk.jobs.messages import ProposeFeature
from housingdesk.ui.benchscene import BenchScene
from housingdesk.ui.benchwork import BenchWork
from housingdesk.ui.desk import Desk
from housingdesk.ui.pointing import half_at
from housingdesk.ui.themes import Themes
from housingdesk.view3d.scene import Scene, Spot
from tests.ui.inline import InlineClient

pytestmark = pytest.mark.window

SIDE = Spot("part-0", (0.0, 10.0, 5.0), (0.0, 1.0, 0.0), 0)


class StandIn(QObject):
    """The bench's signals, and a note of what it was asked for."""

    plane_drag_began = Signal()
    plane_dragged = Signal(float)
    plane_drag_ended = Signal(float)
    nothing_clicked = Signal()
    face_clicked = Signal(object)
    face_added = Signal(object)
    spot_hovered = Signal(object)
    handle_taken = Signal(object)
    handle_dragged = Signal(object, object)
    handle_left = Signal()
    view_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.scene: Scene | None = None
        self.picking = False
        self.hint = ""
        self.fits = 0
        self.flown_to: list[tuple[float, float, float]] = []
        self.snaps: tuple[float, ...] = ()

    def show_scene(self, scene: Scene) -> None:
        self.scene = scene

    def set_picking(self, picking: bool, *, flats: bool = True) -> None:
        self.picking = picking

    def set_snaps(self, heights_mm: tuple[float, ...]) -> None:
        self.snaps = heights_mm

    def set_hint(self, words: str) -> None:
        self.hint = words

    sees_all = True

    def fit_view(self) -> None:
        self.fits += 1

    def fly_to(self, point_mm: tuple[float, float, float]) -> None:
        self.flown_to.append(point_mm)


@pytest.fixture
def bench(qapp: object) -> Iterator[StandIn]:
    made = StandIn()
    yield made
    made.deleteLater()


@pytest.fixture
def scenes(open_desk: Desk, themes: Themes) -> BenchScene:
    return BenchScene(open_desk, themes)


@pytest.fixture
def work(open_desk: Desk, bench: StandIn, scenes: BenchScene) -> BenchWork:
    return BenchWork(open_desk, bench, scenes)  # type: ignore[arg-type]  # all it needs of a bench


def height(desk: Desk) -> float:
    assert desk.spec is not None
    return desk.spec.parting.height_mm


def test_a_dragged_plane_is_one_step(work: BenchWork, bench: StandIn, open_desk: Desk) -> None:
    bench.plane_drag_began.emit()
    for z_mm in (5.5, 6.0):
        bench.plane_dragged.emit(z_mm)
        assert height(open_desk) == z_mm
    bench.plane_drag_ended.emit(6.5)
    assert height(open_desk) == 6.5
    open_desk.undo()
    assert height(open_desk) == 5.0


def test_the_whole_housing_is_shown_with_its_first_halves_only(
    work: BenchWork,
    bench: StandIn,
    open_desk: Desk,
    part_file: Path,
    clients: list[InlineClient],
    qtbot: QtBot,
) -> None:
    for _ in range(2):
        work.show("Parting", (0.0, 0.0), stale=False)
    assert bench.fits == 1
    assert bench.scene is not None
    assert {i.name for i in bench.scene.items} == {"lower", "upper", "part-0"}
    assert 5.0 in bench.snaps
    open_desk.close_project()
    work.show("Parting", (0.0, 0.0), stale=False)
    assert bench.scene.items == ()
    open_desk.open_part(part_file)
    qtbot.waitUntil(lambda: open_desk.result is not None)
    work.show("Parting", (0.0, 0.0), stale=False)
    assert bench.fits == 2


def test_a_click_means_what_is_being_chosen(
    work: BenchWork, bench: StandIn, open_desk: Desk, clients: list[InlineClient], qtbot: QtBot
) -> None:
    before = open_desk.spec
    bench.face_clicked.emit(SIDE)
    assert open_desk.spec == before  # nothing is being chosen
    open_desk.start_picking("block")
    work.show("Part", (0.0, 0.0), stale=False)
    assert bench.picking
    bench.face_clicked.emit(SIDE)
    assert open_desk.parts_height_mm == pytest.approx(20.0)  # 40 x 20 x 10 mm, on its side
    assert not open_desk.picking
    open_desk.start_placing("screws")
    bench.face_clicked.emit(SIDE)
    (asked,) = (j for j in clients[0].jobs if isinstance(j, ProposeFeature))
    assert (asked.kind, asked.point_mm, asked.normal) == ("screws", SIDE.point_mm, SIDE.normal)
    assert open_desk.placing is None


def test_faces_are_picked_and_added(
    work: BenchWork, bench: StandIn, open_desk: Desk, scenes: BenchScene, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: open_desk.patches_of("block") is not None)
    found = open_desk.patches_of("block")
    assert found is not None
    one, other = (
        Spot("part-0", (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), int(p.faces[0])) for p in found.patches[:2]
    )
    open_desk.start_faces()
    bench.spot_hovered.emit(one)
    assert bench.hint == open_desk.words_at(one) != ""
    assert scenes.scene("Fit", (0.0, 0.0), stale=False).items[0].paint is not None  # lit
    bench.face_clicked.emit(one)
    bench.face_added.emit(other)
    assert open_desk.faces is not None
    assert open_desk.faces.chosen == {0, 1}
    bench.spot_hovered.emit(None)
    assert bench.hint == ""


def test_the_face_whose_figure_is_shown_is_lit_until_the_view_turns_or_something_is_clicked(
    work: BenchWork, bench: StandIn, open_desk: Desk, scenes: BenchScene, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: open_desk.patches_of("block") is not None)

    def lit() -> bool:
        return any(i.paint is not None for i in scenes.scene("Fit", (0.0, 0.0), stale=False).items)

    for leave in (bench.view_changed.emit, lambda: bench.face_clicked.emit(SIDE)):
        bench.spot_hovered.emit(SIDE)
        assert bench.hint == open_desk.words_at(SIDE) != ""
        assert lit()
        leave()
        assert bench.hint == ""
        assert not lit()
    open_desk.start_picking("block")  # then the bench itself lights all that would lie on the ground
    bench.spot_hovered.emit(SIDE)
    assert not lit()


def marked(open_desk: Desk) -> Finding:
    """Return the finding of the proof that has a place."""
    assert open_desk.proof is not None
    return next(f for f in open_desk.proof.findings if f.where_mm is not None)


def test_a_finding_is_flown_to_where_it_has_a_place(
    work: BenchWork, bench: StandIn, scenes: BenchScene, open_desk: Desk
) -> None:
    work.go_to(Finding("wall", "pass", "Least wall 2.40 mm."))
    assert bench.flown_to == []
    finding = marked(open_desk)
    work.go_to(finding)
    assert bench.flown_to == [finding.where_mm]
    assert scenes.look.mark_mm == finding.where_mm
    bench.nothing_clicked.emit()
    assert scenes.look.mark_mm is None


def test_a_place_on_the_upper_half_is_lifted_with_it(
    work: BenchWork, bench: StandIn, scenes: BenchScene, open_desk: Desk
) -> None:
    proof = open_desk.proof
    assert proof is not None
    finding = Finding("wall-upper", "fail", "Least wall 0.80 mm.", "", (1.0, 2.0, 9.0))
    open_desk._proof = replace(proof, findings=(finding,))
    scenes.set_look(replace(scenes.look, lift_mm=12.0))
    work.go_to(finding)
    assert bench.flown_to == [(1.0, 2.0, 21.0)]
    assert scenes.scene("Parting", (0.0, 0.0), stale=False).marks == ((1.0, 2.0, 21.0),)


def test_a_place_lies_on_the_nearest_body_unless_the_finding_says_which(open_desk: Desk) -> None:
    proof = open_desk.proof
    assert proof is not None
    (x, y, bottom), (_, _, top) = proof.parts[0].bounds
    on_part = (x, y, (bottom + top) / 2)
    assert half_at(Finding("zone", "fail", "", "", on_part), proof) is None
    assert half_at(Finding("wall-lower", "fail", "", "", on_part), proof) == "lower"
    assert half_at(Finding("opening-roof", "pass", "", "", on_part), proof) == "upper"
    low, high = proof.outer_mm
    assert half_at(Finding("mark", "fail", "", "", tuple(low)), proof) == "lower"
    assert half_at(Finding("mark", "fail", "", "", tuple(high)), proof) == "upper"
