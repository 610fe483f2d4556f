"""Features on the job card, with mouse and keys: the entry is made from the model, here of a kind made up."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal, Self

import numpy as np
import pytest
from pydantic import Field
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QCheckBox, QLabel, QLineEdit
from pytestqt.qtbot import QtBot

from housingdesk.features import registry
from housingdesk.features.feature import Feature, Station
from housingdesk.features.site import Site
from housingdesk.features.work import Work
from housingdesk.finding import Finding
from housingdesk.geometry.types import Floats
from housingdesk.jobs.messages import ProposeFeature
from housingdesk.spec.edits_features import add_feature, add_zone
from housingdesk.spec.zones import PatchRef, ZoneSpec
from housingdesk.ui.entries.entry import FeatureEntry
from housingdesk.ui.entries.featurelist import FeatureStation
from housingdesk.ui.entries.wishes import hint_of, wishes_of
from housingdesk.ui.window import MainWindow
from tests.ui.inline import InlineClient
from tests.ui.test_window import settle, type_into, window, working

pytestmark = pytest.mark.window
__all__ = ["window", "working"]  # fixtures


class Peg(Feature):
    """A peg that lines the halves up.

    Only for tests.
    """

    TITLE: ClassVar[str] = "Pegs"
    STATION: ClassVar[Station] = "Joints"
    SENTENCE: ClassVar[str] = "Line the halves up with {count} pegs {size_mm} thick, {length_mm} long, {fit}."

    kind: Literal["test_peg"] = "test_peg"
    count: int = Field(default=2, ge=1, le=8, title="pegs")
    size_mm: float = Field(default=3.0, ge=1, le=10, title="thickness", description="3 mm seldom breaks.")
    length_mm: float | None = Field(default=None, ge=2, le=40, title="length")
    fit: Literal["snug", "sliding"] = "snug"
    glued: bool = Field(default=False, title="glued in", description="Leaves room for the glue.")
    lean_deg: float = Field(default=0.0, ge=-20, le=20, title="lean")
    zone: str = Field(default="body", title="zone")
    way_mm: tuple[tuple[float, float], ...] = ()

    def build(self, site: Site) -> Work:
        return Work()

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        return cls()


@pytest.fixture(autouse=True)
def _one_kind(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Only pegs are known, whatever features the program has."""
    monkeypatch.setattr(registry, "kinds", lambda: {"test_peg": Peg})
    yield


def joints(window: MainWindow) -> FeatureStation:
    window.card.open_station("Joints")
    found = window.card.stations["Joints"]
    assert isinstance(found, FeatureStation)
    return found


def only(window: MainWindow) -> Peg:
    assert window.desk.spec is not None
    (feature,) = window.desk.spec.features
    assert isinstance(feature, Peg)
    return feature


def with_peg(window: MainWindow) -> FeatureEntry:
    window.desk.apply(add_feature(Peg()))
    return joints(window).list.entries["Pegs"]


def words_of(entry: FeatureEntry) -> str:
    return " ".join(label.text() for label in entry.sentence.findChildren(QLabel) if label.isVisible())


def test_what_can_be_set_is_read_from_the_model() -> None:
    wishes = wishes_of(Peg)
    assert list(wishes) == ["name", "count", "size_mm", "length_mm", "fit", "glued", "lean_deg", "zone"]
    assert " ".join(w.form for w in wishes.values()) == "text count number number choice tick number text"
    size, length, lean = wishes["size_mm"], wishes["length_mm"], wishes["lean_deg"]
    assert (size.least, size.most, size.unit, size.reason, size.optional) == (
        1.0,
        10.0,
        "mm",
        "3 mm seldom breaks.",
        False,
    )
    assert (length.least, length.most, length.optional, length.title) == (2.0, 40.0, True, "length")
    assert (lean.unit, lean.step) == ("°", 5.0)
    assert wishes["fit"].choices == ("snug", "sliding")
    assert hint_of(Peg) == "A peg that lines the halves up."


def test_a_kind_is_added_with_the_mouse_where_the_program_would_put_it(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    clients[0].placed["test_peg", None] = Peg(count=4)
    station = joints(working)
    assert station.summary() == "None."
    add = station.list.adds["test_peg"]
    assert add.text() == "+ Pegs"
    assert add.toolTip() == "A peg that lines the halves up."
    qtbot.mouseClick(add, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: bool(working.desk.spec and working.desk.spec.features))
    assert only(working).count == 4
    entry = station.list.entries["Pegs"]
    qtbot.waitUntil(lambda: words_of(entry).split()[:5] == ["Line", "the", "halves", "up", "with"])
    assert station.summary() == "Pegs."
    qtbot.mouseClick(add, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(station.list.entries) == 2)
    assert list(station.list.entries) == ["Pegs", "Pegs 2"]
    assert working.actions_table.by_id["undo"].text() == "&Undo add pegs"


def test_without_a_proposal_the_usual_figures_serve(working: MainWindow, qtbot: QtBot) -> None:
    qtbot.mouseClick(joints(working).list.adds["test_peg"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: bool(working.desk.spec and working.desk.spec.features))
    assert only(working) == Peg(name="Pegs")


def test_every_kind_of_field_changes_the_feature(working: MainWindow, qtbot: QtBot) -> None:
    entry = with_peg(working)
    control = entry.controls
    type_into(qtbot, control["count"].number, "6")
    assert only(working).count == 6
    type_into(qtbot, control["size_mm"].number, "0.25in")  # 25.4 mm exactly to the inch (1959)
    assert only(working).size_mm == pytest.approx(6.35)
    length = control["length_mm"]
    assert length.number is not None
    assert length.choice is not None
    assert not length.number.isVisible()
    assert length.choice.currentText() == "as needed"
    length.choice.setFocus()
    qtbot.keyClick(length.choice, Qt.Key.Key_Down)
    assert only(working).length_mm == 10.0
    assert length.number.isVisible()
    type_into(qtbot, length.number, "12.5")
    assert only(working).length_mm == 12.5
    length.choice.setFocus()
    qtbot.keyClick(length.choice, Qt.Key.Key_Up)
    assert only(working).length_mm is None
    fit = control["fit"].choice
    assert fit is not None
    fit.setFocus()
    qtbot.keyClick(fit, Qt.Key.Key_Down)
    assert only(working).fit == "sliding"


def test_the_rest_is_folded_under_more(working: MainWindow, qtbot: QtBot) -> None:
    entry = with_peg(working)
    glued = entry.controls["glued"].tick
    assert isinstance(glued, QCheckBox)
    assert not glued.isVisible()
    qtbot.mouseClick(entry.more, Qt.MouseButton.LeftButton)
    assert glued.isVisible()
    assert glued.toolTip() == "Leaves room for the glue."
    qtbot.mouseClick(glued, Qt.MouseButton.LeftButton, pos=QPoint(6, glued.height() // 2))
    assert only(working).glued
    name = entry.controls["name"].text
    assert name is not None
    name.setFocus()
    name.selectAll()
    qtbot.keyClicks(name, "Corner pegs")
    qtbot.keyClick(name, Qt.Key.Key_Return)
    assert only(working).name == "Corner pegs"
    assert list(joints(working).list.entries) == ["Corner pegs"]


def test_a_drag_of_a_number_is_one_step_back(working: MainWindow, qtbot: QtBot) -> None:
    entry = with_peg(working)
    number = entry.controls["size_mm"].number
    assert number is not None
    grip = number.grip
    qtbot.mousePress(grip, Qt.MouseButton.LeftButton, pos=QPoint(3, 3))
    for way in (12, 24, 36):
        qtbot.mouseMove(grip, QPoint(3 + way, 3))
    qtbot.mouseRelease(grip, Qt.MouseButton.LeftButton, pos=QPoint(39, 3))
    assert only(working).size_mm == pytest.approx(3.6)
    working.desk.undo()
    assert only(working).size_mm == 3.0


def test_a_zone_is_chosen_among_those_there_are(working: MainWindow, qtbot: QtBot) -> None:
    entry = with_peg(working)
    zone = entry.controls["zone"].choice
    assert zone is not None
    assert [zone.itemText(i) for i in range(zone.count())] == ["body"]
    ref = PatchRef(kind="flat", centre_mm=(0, 0, 5), axis=(0, 0, 1), size_mm=40, length_mm=20)
    working.desk.apply(add_zone(ZoneSpec(name="top", part="block", patches=(ref,), clearance_mm=0.5)))
    assert [zone.itemText(i) for i in range(zone.count())] == ["body", "top"]
    qtbot.mouseClick(entry.more, Qt.MouseButton.LeftButton)
    zone.setFocus()
    qtbot.keyClick(zone, Qt.Key.Key_Down)
    assert only(working).zone == "top"


def test_after_a_removal_undo_is_the_documents(working: MainWindow, qtbot: QtBot) -> None:
    entry = with_peg(working)
    qtbot.waitUntil(working.isActiveWindow)
    qtbot.mouseClick(entry.remove, Qt.MouseButton.LeftButton)
    assert working.desk.spec is not None
    assert not working.desk.spec.features
    qtbot.wait(50)  # Qt passes the keyboard on when the entry is gone
    focused = QApplication.focusWidget()
    assert not isinstance(focused, QLineEdit)
    qtbot.keyClick(focused or working, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert len(working.desk.spec.features) == 1


def test_a_title_that_is_not_being_typed_leaves_undo_to_the_window(working: MainWindow, qtbot: QtBot) -> None:
    with_peg(working)
    qtbot.waitUntil(working.isActiveWindow)
    title, control = working.card.title, Qt.KeyboardModifier.ControlModifier
    title.setFocus()
    qtbot.keyClick(title, Qt.Key.Key_Z, control)
    assert working.desk.spec is not None
    assert not working.desk.spec.features
    qtbot.keyClick(title, Qt.Key.Key_Z, control | Qt.KeyboardModifier.ShiftModifier)
    assert len(working.desk.spec.features) == 1
    title.end(False)
    qtbot.keyClicks(title, "x")
    qtbot.keyClick(title, Qt.Key.Key_Z, control)
    assert (title.text(), len(working.desk.spec.features)) == ("block", 1)


def test_off_copy_and_remove(working: MainWindow, qtbot: QtBot) -> None:
    entry = with_peg(working)
    qtbot.mouseClick(entry.on, Qt.MouseButton.LeftButton, pos=QPoint(6, entry.on.height() // 2))
    assert not only(working).on
    assert not entry.sentence.isEnabled()
    assert working.card.rows[5].summary.text() == "Pegs (off)."
    qtbot.mouseClick(entry.copy, Qt.MouseButton.LeftButton)
    assert working.desk.spec is not None
    assert [(f.name, f.on) for f in working.desk.spec.features] == [("Pegs", False), ("Pegs 2", False)]
    qtbot.mouseClick(entry.remove, Qt.MouseButton.LeftButton)
    assert only(working).name == "Pegs 2"
    working.desk.undo()
    assert list(joints(working).list.entries) == ["Pegs", "Pegs 2"]


def test_what_is_wrong_with_a_feature_stands_beside_it(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    entry = with_peg(working)
    assert not entry.complaint.isVisible()
    clients[0].said["Pegs"] = (
        Finding("feature-test_peg", "fail", "Pegs could not be made: the wall is too thin for 3 mm."),
        Finding("peg-room", "pass", "Never shown here."),
    )
    type_into(qtbot, entry.controls["count"].number, "3")
    settle(working, qtbot)
    assert entry.complaint.isVisible()
    assert entry.complaint.text() == "✕ Pegs could not be made: the wall is too thin for 3 mm."


def test_a_limit_is_said_under_the_sentence_and_nothing_changes(working: MainWindow, qtbot: QtBot) -> None:
    entry = with_peg(working)
    number = entry.controls["size_mm"].number
    assert number is not None
    number.line_edit.setFocus()
    number.line_edit.selectAll()
    qtbot.keyClicks(number.line_edit, "44")
    assert entry.sentence.complaint == "Choose a number from 1.00 to 10.00 mm."
    assert only(working).size_mm == 3.0


def test_a_click_on_the_bench_chooses_the_place(
    working: MainWindow, qtbot: QtBot, clients: list[InlineClient]
) -> None:
    station = joints(working)
    place = station.list.places["test_peg"]
    qtbot.mouseClick(place, Qt.MouseButton.LeftButton)
    assert place.isChecked()
    assert station.list.asked.isVisible()
    # Seen from above, the middle of the bench is the middle of the roof: 10 + 0.5 + 2.4 mm up.
    working.bench.view_from("top")
    qtbot.waitUntil(lambda: working.bench.eye.view.elevation_deg == 90)
    middle = working.bench.interactor.rect().center() + QPoint(17, 9)  # off the edge of two triangles
    qtbot.mouseMove(working.bench.interactor, middle)
    qtbot.mouseClick(working.bench.interactor, Qt.MouseButton.LeftButton, pos=middle)
    asked = [j for j in clients[0].jobs if isinstance(j, ProposeFeature)]
    assert len(asked) == 1
    assert asked[0].kind == "test_peg"
    assert np.asarray(asked[0].point_mm)[2] == pytest.approx(12.9, abs=1e-3)
    assert asked[0].normal == pytest.approx((0.0, 0.0, 1.0))
    assert working.desk.placing is None
    qtbot.waitUntil(lambda: "another place" in working.notice.words)
    assert working.desk.spec is not None
    assert not working.desk.spec.features


def test_placing_ends_with_its_button_or_with_escape(working: MainWindow, qtbot: QtBot) -> None:
    place = joints(working).list.places["test_peg"]
    for leave in (
        lambda: qtbot.mouseClick(place, Qt.MouseButton.LeftButton),
        lambda: qtbot.keyClick(working.bench.interactor, Qt.Key.Key_Escape),
    ):
        qtbot.mouseClick(place, Qt.MouseButton.LeftButton)
        assert working.desk.placing == "test_peg"
        leave()
        assert working.desk.placing is None
        assert not place.isChecked()
