"""Number fields and choices with real keys, wheel and mouse."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.flow import DragWord, Sentence
from housingdesk.ui.numberfield import PIXELS_PER_STEP, NumberField
from housingdesk.ui.textline import WordLine

pytestmark = pytest.mark.window


class Heard:
    """What a field said, in order."""

    def __init__(self, field: NumberField) -> None:
        self.events: list[object] = []
        field.began.connect(lambda: self.events.append("began"))
        field.changed.connect(self.events.append)
        field.ended.connect(lambda: self.events.append("ended"))


@pytest.fixture
def wall(qtbot: QtBot) -> tuple[NumberField, Sentence, Heard]:
    field = NumberField(2.4, least=0.4, most=50.0, step=0.2)
    page = QWidget()
    column = QVBoxLayout(page)
    sentence = Sentence("&Keep at least {wall} of wall.", {"wall": field})
    column.addWidget(sentence)
    column.addWidget(QLineEdit())
    qtbot.addWidget(page)
    page.resize(320, 160)
    page.show()
    qtbot.waitExposed(page)
    page.activateWindow()
    field.setFocus()
    qtbot.waitUntil(field.line_edit.hasFocus)
    sentence.page = page  # type: ignore[attr-defined]  # keeps the page alive
    return field, sentence, Heard(field)


def type_over(qtbot: QtBot, field: NumberField, text: str) -> None:
    field.line_edit.selectAll()
    qtbot.keyClicks(field.line_edit, text)


def test_a_typed_value_counts_on_enter_and_only_once(qtbot: QtBot, wall: tuple) -> None:
    field, sentence, heard = wall
    type_over(qtbot, field, "3,2")
    assert heard.events == []
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Return)
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Tab)
    assert heard.events == [3.2]
    assert field.line_edit.text() == "3.20"
    assert sentence.complaint == ""


def test_what_is_no_number_shows_a_sentence_and_keeps_the_last_good_value(qtbot: QtBot, wall: tuple) -> None:
    field, sentence, heard = wall
    type_over(qtbot, field, "thick")
    assert "not a number" in sentence.complaint
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Return)
    assert field.value == 2.4
    assert heard.events == []
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Tab)
    assert field.line_edit.text() == "2.40"
    assert "kept 2.40 mm" in sentence.complaint
    field.setFocus()
    type_over(qtbot, field, "3")
    assert sentence.complaint == ""


def test_a_value_beyond_the_limits_names_them(qtbot: QtBot, wall: tuple) -> None:
    field, sentence, heard = wall
    type_over(qtbot, field, "-1")
    assert "0.40 to 50.00 mm" in sentence.complaint
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Escape)
    assert (field.line_edit.text(), sentence.complaint, heard.events) == ("2.40", "", [])


@pytest.mark.parametrize(
    ("key", "modifier", "value"),
    [
        (Qt.Key.Key_Up, Qt.KeyboardModifier.NoModifier, 2.6),
        (Qt.Key.Key_Down, Qt.KeyboardModifier.NoModifier, 2.2),
        (Qt.Key.Key_PageUp, Qt.KeyboardModifier.NoModifier, 4.4),
        (Qt.Key.Key_PageDown, Qt.KeyboardModifier.NoModifier, 0.4),  # stops at the limit
        (Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier, 2.42),
    ],
)
def test_keys_step(
    qtbot: QtBot, wall: tuple, key: Qt.Key, modifier: Qt.KeyboardModifier, value: float
) -> None:
    field, _, heard = wall
    qtbot.keyClick(field.line_edit, key, modifier)
    assert field.value == pytest.approx(value)
    assert heard.events[0] == "began"
    qtbot.waitUntil(lambda: heard.events[-1] == "ended")


def test_a_burst_of_steps_is_one_undo_step(qtbot: QtBot, wall: tuple) -> None:
    field, _, heard = wall
    for _ in range(5):
        qtbot.keyClick(field.line_edit, Qt.Key.Key_Up)
    qtbot.waitUntil(lambda: heard.events[-1] == "ended")
    assert heard.events.count("began") == heard.events.count("ended") == 1
    assert field.value == pytest.approx(3.4)


@pytest.mark.parametrize("handle", ["unit", "word"])
def test_dragging_sideways_is_one_undo_step(qtbot: QtBot, wall: tuple, handle: str) -> None:
    field, sentence, heard = wall
    words = sentence.findChildren(DragWord)
    grip = field.grip if handle == "unit" else words[-1]
    start = QPoint(4, 8)
    qtbot.mousePress(grip, Qt.MouseButton.LeftButton, pos=start)
    for step in (1, 3, 5):
        qtbot.mouseMove(grip, start + QPoint(step * PIXELS_PER_STEP, 0))
    qtbot.mouseRelease(grip, Qt.MouseButton.LeftButton, pos=start + QPoint(5 * PIXELS_PER_STEP, 0))
    assert heard.events[0] == "began"
    assert heard.events[-1] == "ended"
    assert heard.events.count("began") == heard.events.count("ended") == 1
    assert field.value == pytest.approx(3.4)


def slide(qtbot: QtBot, field: NumberField, steps: int) -> None:
    """Press on the middle of the digits and move a little, then on by whole steps."""
    edit = field.line_edit
    start = edit.rect().center()
    qtbot.mousePress(edit, Qt.MouseButton.LeftButton, pos=start)
    for x in (2, 10, *(10 + PIXELS_PER_STEP * (k + 1) for k in range(steps))):
        qtbot.mouseMove(edit, start + QPoint(x, 0))
    end = start + QPoint(10 + PIXELS_PER_STEP * steps, 0)
    qtbot.mouseRelease(edit, Qt.MouseButton.LeftButton, pos=end)


def test_the_digits_drag_until_they_are_clicked_into(qtbot: QtBot, wall: tuple) -> None:
    field, _, heard = wall
    slide(qtbot, field, 5)
    assert field.value == pytest.approx(3.4)
    assert heard.events[0] == "began"
    assert heard.events[-1] == "ended"
    slide(qtbot, field, 5)  # again, without leaving the field
    assert field.value == pytest.approx(4.4)
    said = list(heard.events)
    qtbot.mouseClick(field.line_edit, Qt.MouseButton.LeftButton)
    slide(qtbot, field, 5)
    assert (field.value, heard.events) == (pytest.approx(4.4), said)


def test_a_hand_that_trembles_clicks(qtbot: QtBot, wall: tuple) -> None:
    field, _, heard = wall
    edit, at = field.line_edit, field.line_edit.rect().center()
    qtbot.mousePress(edit, Qt.MouseButton.LeftButton, pos=at)
    qtbot.mouseMove(edit, at + QPoint(3, 0))
    qtbot.mouseRelease(edit, Qt.MouseButton.LeftButton, pos=at + QPoint(3, 0))
    assert heard.events == []


@pytest.mark.parametrize("x", [-8, 0, 8])
def test_a_double_click_takes_the_whole_number(qtbot: QtBot, wall: tuple, x: int) -> None:
    field, _, heard = wall
    edit = field.line_edit
    at = QPoint(edit.width() - 16 + x, edit.height() // 2)
    qtbot.mouseClick(edit, Qt.MouseButton.LeftButton, pos=at)
    qtbot.mouseDClick(edit, Qt.MouseButton.LeftButton, pos=at)
    assert edit.selectedText() == "2.40"
    qtbot.keyClicks(edit, "0.4")
    qtbot.keyClick(edit, Qt.Key.Key_Return)
    assert heard.events == [0.4]


def test_two_numbers_in_one_another_are_no_number(qtbot: QtBot, wall: tuple) -> None:
    field, sentence, heard = wall
    type_over(qtbot, field, "00.850")
    assert "not a number" in sentence.complaint
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Tab)
    assert heard.events == []
    assert "kept 2.40 mm" in sentence.complaint


def wheel(widget: QWidget, notches: int) -> None:
    event = QWheelEvent(
        QPointF(5, 5),
        QPointF(widget.mapToGlobal(QPoint(5, 5))),
        QPoint(),
        QPoint(0, 120 * notches),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(widget, event)


def test_the_wheel_changes_only_the_field_in_use(qtbot: QtBot, wall: tuple) -> None:
    field, _, heard = wall
    wheel(field.line_edit, 2)
    assert field.value == pytest.approx(2.8)
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Tab)
    said = list(heard.events)
    wheel(field.line_edit, 2)
    assert field.value == pytest.approx(2.8)
    assert heard.events == said


def test_showing_a_value_says_nothing_and_leaves_typing_alone(qtbot: QtBot, wall: tuple) -> None:
    field, _, heard = wall
    field.show_value(5.0)
    assert field.line_edit.text() == "5.00"
    type_over(qtbot, field, "7.")
    field.show_value(6.0)
    assert field.line_edit.text() == "7."
    assert heard.events == []


def test_alt_key_of_the_sentence_reaches_the_field(qtbot: QtBot, wall: tuple) -> None:
    field, sentence, _ = wall
    qtbot.keyClick(field.line_edit, Qt.Key.Key_Tab)
    assert not field.line_edit.hasFocus()
    qtbot.keyClick(sentence.page, Qt.Key.Key_K, Qt.KeyboardModifier.AltModifier)
    assert field.line_edit.hasFocus()


def test_letters_of_no_unit_are_left_to_the_window(qtbot: QtBot, wall: tuple) -> None:
    """G toggles the ghost even while a number is in use; m of mm is typed."""
    from PySide6.QtGui import QAction, QKeySequence

    field, sentence, _ = wall
    ghosts: list[int] = []
    for letter in "GM":
        action = QAction(letter, sentence.page)
        action.setShortcut(QKeySequence(letter))
        action.triggered.connect(lambda _=False, c=letter: ghosts.append(ord(c)))
        sentence.page.addAction(action)
    type_over(qtbot, field, "3")
    qtbot.keyClick(field.line_edit, Qt.Key.Key_G)
    qtbot.keyClick(field.line_edit, Qt.Key.Key_M)
    assert ghosts == [ord("G")]
    assert field.line_edit.text() == "3m"


def test_commands_with_ctrl_are_left_to_the_window(qtbot: QtBot, wall: tuple) -> None:
    """Ctrl+E writes the halves even while a number is in use; a line of text would take it for its end."""
    from PySide6.QtGui import QAction, QKeySequence

    field, sentence, _ = wall
    heard: list[str] = []
    action = QAction("write", sentence.page)
    action.setShortcut(QKeySequence("Ctrl+E"))
    action.triggered.connect(lambda: heard.append("write"))
    sentence.page.addAction(action)
    type_over(qtbot, field, "3")
    qtbot.keyClick(field.line_edit, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)
    assert heard == ["write"]
    assert field.line_edit.text() == "3"


def test_a_choice_speaks_only_when_the_user_chose(qtbot: QtBot) -> None:
    choice = ChoiceField((("a", "as needed"), ("f", "fixed"), ("x", "other")))
    qtbot.addWidget(choice)
    choice.show()
    heard: list[str] = []
    choice.chosen.connect(heard.append)
    choice.show_key("f")
    assert (choice.key, heard) == ("f", [])
    qtbot.keyClick(choice, Qt.Key.Key_Down)
    assert (choice.key, heard) == ("x", ["x"])


def test_a_sentence_wraps_to_its_width(qtbot: QtBot) -> None:
    field = NumberField(1.0)
    sentence = Sentence("Leave {gap} around the part and a little more on every side.", {"gap": field})
    qtbot.addWidget(sentence)
    wide, narrow = sentence.heightForWidth(2000), sentence.heightForWidth(160)
    assert wide == field.height()
    assert narrow >= 2 * wide


def test_a_single_letter_stays_where_the_sentence_has_it(qtbot: QtBot) -> None:
    field = NumberField(5.0)
    made = Sentence("A block with a corner of R {corner}.", {"corner": field})
    qtbot.addWidget(made)
    made.resize(600, 60)
    made.show()
    qtbot.waitExposed(made)
    words = [w for w in made.findChildren(QLabel) if w.isVisible() and w is not field.grip]
    words.sort(key=lambda w: w.mapTo(made, QPoint(0, 0)).x())
    assert [w.text() for w in words] == ["A", "block", "with", "a", "corner", "of", "R", "."]


def test_a_stretch_in_brackets_is_left_out_while_a_field_in_it_is_barred(qtbot: QtBot) -> None:
    count, press = NumberField(2, least=1, most=9, step=1), NumberField(0.1, least=0, most=1, step=0.1)
    fields: dict[str, QWidget] = {"count": count, "press": press}
    sentence = Sentence("Hold it [with {count} rib|ribs, each] pressing {press}.", fields)
    qtbot.addWidget(sentence)
    sentence.resize(600, 40)
    sentence.show()

    def said() -> list[str]:
        labels = sentence.findChildren(QLabel, options=Qt.FindChildOption.FindDirectChildrenOnly)
        return [w.text() for w in labels if w.isVisible()]

    assert said() == ["Hold", "it", "with", "ribs,", "each", "pressing"]
    sentence.leave_out({"count"})
    assert said() == ["Hold", "it", "pressing"]
    assert not count.isVisible()
    assert press.isVisible()
    sentence.leave_out(())
    assert said() == ["Hold", "it", "with", "ribs,", "each", "pressing"]


def test_a_line_of_text_in_a_sentence_is_as_wide_as_what_is_in_it(qtbot: QtBot) -> None:
    line = WordLine("hub")
    sentence = Sentence("Leave some room around the {name}, which turns.", {"name": line})
    qtbot.addWidget(sentence)
    sentence.resize(260, 100)
    sentence.show()
    short = line.width()
    line.setText("servo xm430 10bodies metres")
    qtbot.waitUntil(lambda: line.width() > short)
    assert line.fontMetrics().horizontalAdvance(line.text()) < line.width() <= 260
    line.setText("the name of a thing that is longer than any line of the card can ever be")
    qtbot.waitUntil(lambda: line.width() <= 260)
