"""Small dialogs: cautions, keys, about, an error in one sentence, a bug, and whether to save."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal, TypeVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QMessageBox, QTextBrowser, QVBoxLayout, QWidget
from typing_extensions import override

from housingdesk import __version__
from housingdesk.files.places import log_path
from housingdesk.ui.actions import rows

SaveAnswer = Literal["save", "drop", "stay"]
Reply = TypeVar("Reply", bound=str)
Role = QMessageBox.ButtonRole

CAUTIONS = (
    (
        "Turning shafts",
        "A turning shaft can catch hair, sleeves and fingers. Guard it, and try it by hand first.",
    ),
    (
        "Heat",
        "Motors, drivers and lamps get hot in a closed housing. Usual printing plastics soften from 55 °C; "
        "leave air, choose a plastic that bears the heat, and measure after an hour.",
    ),
    (
        "Mains",
        "Mains voltage can kill. A printed housing is no proven protection: use a bought, tested one.",
    ),
    (
        "Lithium cells",
        "Cells burn when they are pierced, crushed, overcharged or hot. Leave room, keep screws away from "
        "them, and never press a cell into place.",
    ),
    ("Loads", "The proof measures form, not strength. A printed part breaks between its layers first."),
    (
        "The printer",
        "The proof is about the files. How true your printer makes them, only a test print tells.",
    ),
)
_MOUSE = (
    ("Bench", "Drag turns, drag with Shift or the right button shifts, wheel comes closer."),
    (
        "Parting plane",
        "Drag its grip. It catches at the middle and at good heights; Shift frees it, Esc gives it back.",
    ),
    (
        "Section's line",
        "A thin line around the housing shows where the section is cut. Drag one of its round ends to move "
        "the cut, in the bench or in the small plan; in the plan they turn it.",
    ),
    (
        "Screws, openings, mounts",
        "The small diamonds on them are dragged while their station is open; one that is but an outline lies "
        "behind the housing. Shift goes in hundredths, Esc gives them back. By click: the next click on the "
        "housing says where it belongs.",
    ),
    (
        "Zones",
        "While faces are picked, a click takes a flat or a round of the part, Shift and a click add one or "
        "leave one out. + adds what is joined smoothly to those picked, − takes off the outermost of them.",
    ),
    (
        "A number",
        "Drag it, its unit or the word before it sideways; once clicked into, its digits are typed over, and "
        "a double click takes them all. Arrows and wheel step, Page Up steps ten times, Shift a tenth. Other "
        "units can be typed: 1 in.",
    ),
    (
        "Section",
        "Rest the pointer on it to read gap or wall; wheel comes closer, drag shifts, double-click fits.",
    ),
)


def cautions_html() -> str:
    """Return the cautions as a page."""
    items = "".join(f"<p><b>{head}.</b> {text}</p>" for head, text in CAUTIONS)
    return f"<h3>What no program can check for you</h3>{items}"


def keys_html() -> str:
    """Return all keys as a page, made from the action table."""
    lines = "".join(
        f"<tr><td style='padding-right:24px'>{_plain(row.text)}</td>"
        f"<td><b>{row.shortcut.replace('|', ' or ')}</b></td></tr>"
        for _, row in rows()
        if row.shortcut
    )
    hints = "".join(f"<p><b>{head}.</b> {text}</p>" for head, text in _MOUSE)
    return f"<h3>Mouse</h3>{hints}<h3>Keys</h3><table>{lines}</table>"


def _plain(text: str) -> str:
    return text.format(undo="", redo="").replace("&", "").strip()


def show_page(parent: QWidget, title: str, html: str) -> None:
    """Show a page of text until it is closed."""
    dialog = QDialog(parent)
    dialog.setWindowTitle(title)
    dialog.resize(560, 520)
    text = QTextBrowser()
    text.setHtml(html)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    buttons.rejected.connect(dialog.reject)
    column = QVBoxLayout(dialog)
    column.setContentsMargins(18, 18, 18, 14)
    column.addWidget(text)
    column.addWidget(buttons)
    dialog.exec()


def show_about(parent: QWidget) -> None:
    """Show version and licence."""
    QMessageBox.about(
        parent,
        "About Housing Desk",
        f"<b>Housing Desk {__version__}</b><p>Two printed halves that close around a bought part, "
        "and a proof that they fit.</p><p>MIT licence.</p>"
        f"<p>What goes wrong inside it is logged in {log_path()}.</p>",
    )


def show_sentence(parent: QWidget | None, sentence: str) -> None:
    """Show what went wrong and what to do."""
    box = QMessageBox(
        QMessageBox.Icon.NoIcon, "Housing Desk", sentence, QMessageBox.StandardButton.Ok, parent
    )
    box.exec()


def show_bug(parent: QWidget | None, log_file: Path, detail: str) -> None:
    """Tell of a bug: nothing is lost, where the log is, and the details to report."""
    box = QMessageBox(
        QMessageBox.Icon.NoIcon,
        "Housing Desk",
        "Something went wrong inside Housing Desk; your work is kept. Save it under another name to be sure.",
        QMessageBox.StandardButton.Ok,
        parent,
    )
    box.setInformativeText(f"What happened is written in {log_file}.")
    box.setDetailedText(detail)
    box.exec()


def ask_save(parent: QWidget, name: str) -> SaveAnswer:
    """Ask what to do with unsaved work."""
    buttons: dict[SaveAnswer, tuple[str, Role]] = {
        "save": ("&Save", Role.AcceptRole),
        "drop": ("&Don't save", Role.DestructiveRole),
        "stay": ("&Go back", Role.RejectRole),
    }
    return chosen(parent, f"“{name}” has changes that are not saved.", buttons, enter="save", esc="stay")


class Question(QMessageBox):
    """A question that no single letter answers: a key meant for the window would else replace files."""

    @override
    def keyPressEvent(self, event: QKeyEvent, /) -> None:
        if event.text().isalnum() and not event.modifiers() & Qt.KeyboardModifier.AltModifier:
            event.accept()
        else:
            super().keyPressEvent(event)


def chosen(
    parent: QWidget,
    words: str,
    buttons: Mapping[Reply, tuple[str, Role]],
    *,
    enter: Reply,
    esc: Reply,
    more: str = "",
) -> Reply:
    """Ask a question, and return which of the buttons was pressed; letters answer only together with Alt.

    Parameters
    ----------
    buttons : label and role by the answer that each gives.
    enter, esc : the answers that these keys give.
    more : a second sentence, set smaller.
    """
    box = Question(
        QMessageBox.Icon.NoIcon, "Housing Desk", words, QMessageBox.StandardButton.NoButton, parent
    )
    box.setInformativeText(more)
    made = {reply: box.addButton(label, role) for reply, (label, role) in buttons.items()}
    box.setDefaultButton(made[enter])
    box.setEscapeButton(made[esc])
    box.exec()
    return next((reply for reply, button in made.items() if button is box.clickedButton()), esc)
