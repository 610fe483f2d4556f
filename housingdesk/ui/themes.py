"""Light or dark: as the system has it until the user says otherwise."""

from __future__ import annotations

from PySide6.QtCore import QObject, QSettings, Qt, Signal
from PySide6.QtWidgets import QApplication

from housingdesk.ui.theme import dress
from housingdesk.view3d.palette import Palette, palette

_KEY = "dark"


class Themes(QObject):
    """The colours now in use.  ``changed`` comes after the program wears them.

    Parameters
    ----------
    settings : where the user's choice is kept; without a choice the system's scheme is followed.
    """

    changed = Signal()

    def __init__(self, app: QApplication, settings: QSettings) -> None:
        super().__init__()
        self._app, self._settings = app, settings
        chosen = settings.value(_KEY)
        self.dark = self._system_dark() if chosen is None else str(chosen).lower() == "true"
        app.styleHints().colorSchemeChanged.connect(self._follow)
        dress(app, self.palette)

    @property
    def palette(self) -> Palette:
        """The colours."""
        return palette(self.dark)

    def set_dark(self, dark: bool) -> None:
        """Choose, for now and for later."""
        self._settings.setValue(_KEY, dark)
        self._wear(dark)

    def _system_dark(self) -> bool:
        return self._app.styleHints().colorScheme() == Qt.ColorScheme.Dark

    def _follow(self) -> None:
        if self._settings.value(_KEY) is None:
            self._wear(self._system_dark())

    def _wear(self, dark: bool) -> None:
        if dark != self.dark:
            self.dark = dark
            dress(self._app, self.palette)
            self.changed.emit()
