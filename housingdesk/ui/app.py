"""Starts the window, and catches what nobody expected (one of the program's three catchers)."""

from __future__ import annotations

import logging
import logging.handlers
import sys
import traceback
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QMessageLogContext, QSettings, QTimer, QtMsgType, qInstallMessageHandler
from PySide6.QtWidgets import QApplication

from housingdesk.errors import HousingError
from housingdesk.files.places import log_path, user_data_dir
from housingdesk.ui.desk import Desk
from housingdesk.ui.dialogs import show_bug, show_sentence
from housingdesk.ui.theme import system_font
from housingdesk.ui.themes import Themes
from housingdesk.ui.window import MainWindow

LOG = logging.getLogger("housingdesk.ui")
_LEVELS = {
    QtMsgType.QtDebugMsg: logging.DEBUG,
    QtMsgType.QtInfoMsg: logging.INFO,
    QtMsgType.QtWarningMsg: logging.WARNING,
    QtMsgType.QtCriticalMsg: logging.ERROR,
    QtMsgType.QtFatalMsg: logging.CRITICAL,
}


class Catcher:
    """Takes every exception nobody caught: logs it, and tells the user once at a time."""

    def __init__(self, log_file: Path) -> None:
        self.log_file = log_file
        self._showing = False

    def __call__(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """Work as ``sys.excepthook``."""
        if issubclass(kind, KeyboardInterrupt):
            QApplication.quit()
            return
        detail = "".join(traceback.format_exception(kind, error, trace))
        if not isinstance(error, HousingError):
            LOG.error("unexpected\n%s", detail)
        if self._showing:
            return
        self._showing = True
        try:
            if isinstance(error, HousingError):
                show_sentence(QApplication.activeWindow(), str(error))
            else:
                show_bug(QApplication.activeWindow(), self.log_file, detail)
        finally:
            self._showing = False


def start_log(log_file: Path) -> Path:
    """Write the program's log into a file, a few hundred kB at most; return it."""
    log_file.parent.mkdir(parents=True, exist_ok=True)
    handler = logging.handlers.RotatingFileHandler(
        log_file, maxBytes=256_000, backupCount=1, encoding="utf-8"
    )
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    root = logging.getLogger("housingdesk")
    root.setLevel(logging.INFO)
    root.addHandler(handler)
    return log_file


def _log_qt(kind: QtMsgType, context: QMessageLogContext, message: str) -> None:
    logging.getLogger("housingdesk.qt").log(_LEVELS.get(kind, logging.INFO), "%s", message)


def run(argv_path: str | None) -> int:
    """Open the window, on a part or a project when a path is given, and return the exit code."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(sys.argv[:1])
    app.setApplicationName("Housing Desk")
    app.setOrganizationName("housingdesk")
    app.setStyle("Fusion")
    app.setFont(system_font())
    data = user_data_dir()
    catcher = Catcher(start_log(log_path()))
    sys.excepthook = catcher
    qInstallMessageHandler(_log_qt)
    themes = Themes(app, QSettings(str(data / "window.ini"), QSettings.Format.IniFormat))
    window = MainWindow(Desk(), themes)
    window.show_start()
    window.show()
    if argv_path is not None:
        QTimer.singleShot(0, window, lambda: window.open_path(Path(argv_path)))
    return int(app.exec())
