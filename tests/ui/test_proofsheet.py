"""The proof sheet: order, words beside colours, clicks and keys."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from housingdesk.build.results import BuildResult
from housingdesk.finding import Finding
from housingdesk.ui.desk import Desk
from housingdesk.ui.proofsheet import ProofSheet, figures_of, verdict

pytestmark = pytest.mark.window

FINDINGS = (
    Finding("gap-lower", "pass", "Lower half: least gap 0.50 mm."),
    Finding("opening", "caution", "The shaft reaches out on the right.", "Guard it.", (1.0, 2.0, 3.0)),
    Finding("wall", "fail", "Least wall 0.30 mm, 1.80 needed.", "Make the wall thicker.", (4.0, 5.0, 6.0)),
)


@pytest.fixture
def result(open_desk: Desk) -> BuildResult:
    assert open_desk.proof is not None
    return replace(open_desk.proof, findings=FINDINGS)


@pytest.fixture
def sheet(qtbot: QtBot) -> ProofSheet:
    made = ProofSheet()
    qtbot.addWidget(made)
    made.resize(312, 700)
    made.show()
    qtbot.waitExposed(made)
    return made


def texts(row: object) -> list[str]:
    assert hasattr(row, "findChildren")
    return [label.text() for label in row.findChildren(QLabel)]


def test_worst_first_with_glyph_word_sentence_and_remedy(sheet: ProofSheet, result: BuildResult) -> None:
    sheet.show_proof(result, stale=False)
    assert [row.finding.severity for row in sheet.rows] == ["fail", "caution", "pass"]
    assert texts(sheet.rows[0])[:1] == ["✕ fail"]
    assert "Least wall 0.30 mm, 1.80 needed." in texts(sheet.rows[0])
    assert "Make the wall thicker." in texts(sheet.rows[0])
    assert texts(sheet.rows[2])[0] == "✓ pass"
    assert sheet.state_line == "1 fail, 1 caution; measured on the finished halves"


def long_proof(result: BuildResult, *first: Finding) -> BuildResult:
    words = "The part goes straight into the lower half from above, never nearer than 0.495 mm there."
    return replace(
        result, findings=(*first, *(Finding(f"gap-{k}", "pass", f"{k}. {words}") for k in range(12)))
    )


def test_lines_have_their_height_before_they_are_drawn(sheet: ProofSheet, result: BuildResult) -> None:
    """No event is handled between the new findings and the look at them."""
    sheet.show_proof(long_proof(result), stale=False)
    words = [label for row in sheet.rows for label in row.findChildren(QLabel)]
    assert len(words) >= 24
    assert all(w.isVisible() and w.height() >= w.heightForWidth(w.width()) for w in words)
    assert sheet._state.height() >= sheet._state.heightForWidth(sheet._state.width())


def test_a_new_caution_scrolls_the_list_to_it_and_new_figures_do_not(
    sheet: ProofSheet, result: BuildResult
) -> None:
    bar = sheet._scroll.verticalScrollBar()
    sheet.show_proof(long_proof(result, FINDINGS[1]), stale=False)
    bar.setValue(bar.maximum())
    assert bar.value() > 0
    moved = replace(FINDINGS[1], message="The shaft reaches out on the left.")
    sheet.show_proof(long_proof(result, moved), stale=False)
    assert bar.value() > 0
    sheet.show_proof(long_proof(result, FINDINGS[2], moved), stale=False)
    assert bar.value() == 0


def test_a_click_names_the_finding_and_marks_its_row(
    qtbot: QtBot, sheet: ProofSheet, result: BuildResult
) -> None:
    sheet.show_proof(result, stale=False)
    with qtbot.waitSignal(sheet.finding_chosen) as heard:
        qtbot.mouseClick(sheet.rows[1], Qt.MouseButton.LeftButton)
    assert heard.args == [FINDINGS[1]]
    assert [row.property("chosen") for row in sheet.rows] == [False, True, False]


def test_enter_does_what_a_click_does_and_a_finding_without_a_place_does_nothing(
    qtbot: QtBot, sheet: ProofSheet, result: BuildResult
) -> None:
    sheet.show_proof(result, stale=False)
    with qtbot.waitSignal(sheet.finding_chosen) as heard:
        qtbot.keyClick(sheet.rows[0], Qt.Key.Key_Return)
    assert heard.args == [FINDINGS[2]]
    with qtbot.assertNotEmitted(sheet.finding_chosen):
        qtbot.mouseClick(sheet.rows[2], Qt.MouseButton.LeftButton)


def test_stale_and_failed_say_so_and_a_failure_comes_first(sheet: ProofSheet, result: BuildResult) -> None:
    sheet.show_proof(result, stale=True)
    assert "out of date" in sheet.state_line
    sheet.show_proof(result, stale=True, failure="The parting plane must lie inside the parts.")
    assert sheet.rows[0].finding.severity == "fail"
    assert sheet.rows[0].finding.message == "The parting plane must lie inside the parts."
    assert len(sheet.rows) == 4
    sheet.show_proof(result, stale=False)
    assert len(sheet.rows) == 3


def test_figures_are_those_of_the_halves(result: BuildResult) -> None:
    assert result.facts is not None
    lower, upper = figures_of(result)
    assert lower.startswith("Lower half")
    assert upper.startswith("Upper half")
    facts = result.facts["lower"]
    # 40 x 20 x 10 block, 0.5 mm clearance, 2.4 mm wall, parted in the middle: half of box less cavity.
    by_hand = (45.8 * 25.8 * 15.8 - 41 * 21 * 11) / 2
    assert facts.volume_mm3 == pytest.approx(by_hand, rel=1e-6)
    assert f"{by_hand / 1000:.1f} cm³" in lower
    many = replace(result, facts={**result.facts, "lower": replace(facts, triangles=20342)})
    assert "about 20,300 triangles" in figures_of(many)[0]
    assert f"about {facts.triangles} triangles" in lower  # as few as these are told as they are


def test_the_verdict_counts_what_does_not_pass() -> None:
    good, look = Finding("a", "pass", "Good."), Finding("b", "caution", "Look.")
    assert verdict((good, good)) == "all 2 pass"
    assert verdict((good, look, good)) == "1 caution"
    assert verdict((look, good, look)) == "2 cautions"
