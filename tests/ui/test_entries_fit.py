"""Every kind of feature and every outside form there is has an entry that fits the job card."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QComboBox, QLabel, QStyle, QStyleOptionComboBox
from pytestqt.qtbot import QtBot

from housingdesk.features import registry
from housingdesk.features.forms.registry import kinds as form_kinds
from housingdesk.features.registry import plain
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.entry import FeatureEntry
from housingdesk.ui.entries.formentry import FormEntry
from housingdesk.ui.entries.wishes import hint_of, named_in, wishes_of
from housingdesk.ui.jobcard.card import JobCard
from housingdesk.ui.stack import unfold
from housingdesk.ui.theme import JOB_CARD_WIDTH
from housingdesk.ui.themes import Themes

pytestmark = pytest.mark.window
KINDS = registry.kinds()


@pytest.fixture
def room(desk: Desk, themes: Themes, qtbot: QtBot) -> int:
    """How wide an entry may be: a station's inner width beside the scroll bar."""
    card = JobCard(desk)
    qtbot.addWidget(card)
    card.resize(JOB_CARD_WIDTH, 500)
    card.show()
    qtbot.waitExposed(card)
    station = card.stations["Shell"]
    card.open_station("Shell")
    qtbot.waitUntil(lambda: card._scroller.verticalScrollBar().isVisible())
    margins = station.column.contentsMargins()
    return station.width() - margins.left() - margins.right()


@pytest.mark.parametrize("kind", KINDS)
def test_a_features_entry_fits_and_says_what_it_is(kind: str, room: int, desk: Desk, qtbot: QtBot) -> None:
    made = KINDS[kind]
    feature = plain(made)
    assert feature is not None, "every field has a usual value"
    assert hint_of(made).endswith((".", "!", "?"))
    wishes = wishes_of(made)
    assert set(named_in(made.SENTENCE)) <= set(wishes), "every field of the sentence can be asked for"
    entry = FeatureEntry(desk, feature)
    qtbot.addWidget(entry)
    unfold(entry._worded.rest, True)
    assert entry.minimumSizeHint().width() <= room


def test_a_field_without_effect_rests_and_says_why(desk: Desk, qtbot: QtBot) -> None:
    entry = FormEntry(desk)
    qtbot.addWidget(entry)
    block = form_kinds()["block"]
    entry.show_form(block(kind="block", rim="sharp", upright="rounded"))
    assert entry.worded is not None
    rim, upright = (entry.worded.controls[n].widget for n in ("rim_mm", "upright_mm"))
    assert not rim.isEnabled()
    assert rim.toolTip().startswith(
        "Has no effect with edges of floor and roof “sharp”.\nHow far the chamfer"
    )
    assert upright.isEnabled()
    number = entry.worded.controls["rim_mm"].number
    assert number is not None
    assert not number.line_edit.isEnabled()
    entry.show_form(block(kind="block", rim="rounded", upright="rounded"))
    assert rim.isEnabled()
    assert rim.toolTip().startswith("How far the chamfer")


@pytest.mark.parametrize("kind", [k for k, made in KINDS.items() if "{count}" in made.SENTENCE])
def test_one_is_not_said_in_the_plural(kind: str, desk: Desk, qtbot: QtBot) -> None:
    made = KINDS[kind]
    wish = wishes_of(made)["count"]
    said = {}
    for count in (1, 2):
        if wish.form != "count":
            continue  # a choice of even numbers
        feature = plain(made)
        assert feature is not None
        entry = FeatureEntry(desk, feature)
        qtbot.addWidget(entry)
        entry.show_feature(feature.model_copy(update={"count": count}), ())
        said[count] = " ".join(label.text() for label in entry.sentence.findChildren(QLabel) if label.text())
    if said:
        assert said[1] != said[2], said[1]


@pytest.mark.parametrize("kind", form_kinds())
def test_a_forms_entry_fits(kind: str, room: int, desk: Desk, qtbot: QtBot) -> None:
    entry = FormEntry(desk)
    qtbot.addWidget(entry)
    entry.show_form(form_kinds()[kind]())  # type: ignore[call-arg]  # each kind has its own default
    assert entry.worded is not None
    unfold(entry.worded.rest, True)
    assert entry.minimumSizeHint().width() <= room
    assert _is_whole(entry.kind)


def _is_whole(box: QComboBox) -> bool:
    """Whether all the words of a choice can be read, not only the one that is shown."""
    option = QStyleOptionComboBox()
    box.initStyleOption(option)
    box.resize(box.sizeHint().boundedTo(box.maximumSize()))
    option.rect = box.rect()
    field = box.style().subControlRect(
        QStyle.ComplexControl.CC_ComboBox, option, QStyle.SubControl.SC_ComboBoxEditField, box
    )
    widest = max(box.fontMetrics().horizontalAdvance(box.itemText(i)) for i in range(box.count()))
    return bool(widest <= field.width())
