"""Every action of the window in one table; the menus and the shortcuts are made from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMainWindow, QMenu

ALWAYS = "always"
OPEN = "a housing is open"
RESULT = "halves are shown"
UNDO = "something can be undone"
REDO = "something can be redone"
MODIFIED = "something is not saved"
BUSY = "something long is running"
BODIES = "halves and part are shown, not the gaps"
FACES = "faces are being picked"


@dataclass(frozen=True, slots=True)
class ActionRow:
    """One action.

    Attributes
    ----------
    id : name of the handler in the window's table.
    text : menu text; ``{undo}`` and ``{redo}`` are filled with the label of the step.
    shortcut : portable key sequence, empty for none; several are separated by ``|``.
    when : condition that must hold.
    check : the action is a switch.
    """

    id: str
    text: str
    shortcut: str
    tip: str
    when: str = ALWAYS
    check: bool = False


SEPARATOR = ActionRow("", "", "", "")
# From where the housing is looked at; their ids are ``from_`` and the camera's name of the side.
LOOKS = (
    ActionRow("from_corner", "Aslan&t", "1", "Look aslant from above, from a corner.", OPEN),
    ActionRow("from_front", "From the f&ront", "2", "Look from the front.", OPEN),
    ActionRow("from_back", "From the bac&k", "3", "Look from the back.", OPEN),
    ActionRow("from_left", "From the l&eft", "4", "Look from the left.", OPEN),
    ActionRow("from_right", "From the r&ight", "5", "Look from the right.", OPEN),
    ActionRow("from_top", "From a&bove", "6", "Look straight down on the roof.", OPEN),
    ActionRow("from_bottom", "From belo&w", "7", "Look straight up at the floor.", OPEN),
)

MENUS: dict[str, tuple[ActionRow, ...]] = {
    "&File": (
        ActionRow("open_part", "Open a &part…", "Ctrl+O", "Start a housing around a part's file."),
        ActionRow(
            "measure_part", "&Measure a part…", "Ctrl+M", "Start a housing around a part without a file."
        ),
        ActionRow("open_project", "Open a p&roject…", "Ctrl+Shift+O", "Go on with a saved housing."),
        ActionRow("add_part", "A&dd another part…", "Ctrl+Shift+A", "Several parts in one housing.", OPEN),
        SEPARATOR,
        ActionRow("save", "&Save", "Ctrl+S", "Save the project where it is.", MODIFIED),
        ActionRow("save_as", "Save &as…", "Ctrl+Shift+S", "Save the project somewhere else.", OPEN),
        SEPARATOR,
        ActionRow("write", "&Write the two halves…", "Ctrl+E", "Build, prove and write STL and 3MF.", OPEN),
        SEPARATOR,
        ActionRow("close", "&Close the project", "Ctrl+W", "Back to the start page.", OPEN),
        ActionRow("quit", "&Quit", "Ctrl+Q", "Leave the program."),
    ),
    "&Edit": (
        ActionRow("undo", "&Undo {undo}", "Ctrl+Z", "Take the last step back.", UNDO),
        ActionRow("redo", "&Redo {redo}", "Ctrl+Shift+Z|Ctrl+Y", "Do the step again.", REDO),
        SEPARATOR,
        ActionRow(
            "suggest",
            "&Suggest parting planes",
            "Ctrl+P",
            "Find planes that need little extra room cut.",
            OPEN,
        ),
        ActionRow(
            "grow", "A&dd what is joined smoothly", "+|=", "Spread the picked faces over smooth edges.", FACES
        ),
        ActionRow("shrink", "Ta&ke off the outermost", "-", "Draw the pick back from smooth edges.", FACES),
        ActionRow("cancel", "S&top what is running", "Ctrl+.", "Stop the long work now running.", BUSY),
        SEPARATOR,
        ActionRow("station_1", "Station &Part", "Ctrl+1", "Open the station Part.", OPEN),
        ActionRow("station_2", "Station P&arting", "Ctrl+2", "Open the station Parting.", OPEN),
        ActionRow("station_3", "Station &Fit", "Ctrl+3", "Open the station Fit.", OPEN),
        ActionRow("station_4", "Station S&hell", "Ctrl+4", "Open the station Shell.", OPEN),
        ActionRow("station_5", "Station &Openings", "Ctrl+5", "Open the station Openings.", OPEN),
        ActionRow("station_6", "Station &Joints", "Ctrl+6", "Open the station Joints.", OPEN),
        ActionRow("station_7", "Station &Mounts", "Ctrl+7", "Open the station Mounts.", OPEN),
        ActionRow("station_8", "Station Pr&int", "Ctrl+8", "Open the station Print.", OPEN),
    ),
    "&View": (
        ActionRow(
            "ghost", "&Ghost of the part", "G", "Draw the untouched part over the halves.", BODIES, True
        ),
        ActionRow("lower", "&Lower half", "L", "Show the lower half.", BODIES, True),
        ActionRow("upper", "&Upper half", "U", "Show the upper half.", BODIES, True),
        ActionRow("lift", "Lift &apart", "E", "Lift the upper half off, or put it back.", BODIES, True),
        ActionRow("gaps", "&Map of the gaps", "M", "Colour the part, or the cavity, by the gap.", OPEN, True),
        ActionRow("plane", "&Parting plane", "P", "Show the parting plane and its grip.", BODIES, True),
        SEPARATOR,
        ActionRow("fit", "&Show everything", "F", "Bring the whole housing into view.", OPEN),
        *LOOKS,
        SEPARATOR,
        ActionRow("cut_along", "Cut alo&ng", "8", "Section along the longer side, through the middle.", OPEN),
        ActionRow("cut_across", "Cut acr&oss", "9", "Section across, through the middle.", OPEN),
        SEPARATOR,
        ActionRow("dark", "&Dark colours", "", "Dark or light paper.", ALWAYS, True),
    ),
    "&Help": (
        ActionRow("keys", "&Keys and mouse", "F1", "All keys on one page."),
        ActionRow("cautions", "&Cautions", "", "What no program can check for you."),
        ActionRow("about", "&About Housing Desk", "", "Version and licence."),
    ),
}


def rows() -> Iterator[tuple[str, ActionRow]]:
    """Return menu and action of every row but separators."""
    for menu, actions in MENUS.items():
        for row in actions:
            if row.id:
                yield menu, row


class Actions(QObject):
    """The actions made from the table, attached to a window.

    Parameters
    ----------
    handlers : by id; a switch's handler gets its new state, others nothing.
    """

    def __init__(self, window: QMainWindow, handlers: Mapping[str, Callable[..., object]]) -> None:
        super().__init__(window)
        missing = {row.id for _, row in rows()} ^ set(handlers)
        if missing:
            raise ValueError(f"handlers and action table differ: {sorted(missing)}")
        self.by_id: dict[str, QAction] = {}
        self.menus: dict[str, QMenu] = {}
        for title, table in MENUS.items():
            menu = window.menuBar().addMenu(title)
            menu.setToolTipsVisible(True)
            self.menus[title] = menu
            for row in table:
                if not row.id:
                    menu.addSeparator()
                    continue
                action = self._make(row, handlers[row.id])
                menu.addAction(action)
                window.addAction(action)

    def _make(self, row: ActionRow, handler: Callable[..., object]) -> QAction:
        action = QAction(row.text.format(undo="", redo="").rstrip(), self)
        action.setToolTip(row.tip)
        action.setStatusTip(row.tip)
        action.setCheckable(row.check)
        if row.shortcut:
            action.setShortcuts([QKeySequence(keys) for keys in row.shortcut.split("|")])
        if row.check:
            action.triggered.connect(lambda on: handler(on))
        else:
            action.triggered.connect(lambda: handler())
        self.by_id[row.id] = action
        return action

    def refresh(self, holds: Mapping[str, bool], *, undo: str, redo: str) -> None:
        """Enable what can be done now and name the steps.

        Parameters
        ----------
        holds : which conditions hold.
        undo, redo : labels of the steps, empty where there is none.
        """
        for _, row in rows():
            action = self.by_id[row.id]
            action.setEnabled(row.when == ALWAYS or holds[row.when])
            if "{" in row.text:
                words = {"undo": _in_menu(undo), "redo": _in_menu(redo)}
                action.setText(row.text.format(**words).rstrip())


def _in_menu(label: str) -> str:
    """Return a step's label as it reads after Undo."""
    return (label[:1].lower() + label[1:]).replace("&", "&&")
