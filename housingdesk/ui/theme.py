"""Colours, type and measures of the window: a flat light paper and its dark twin.

The colours themselves belong to ``view3d.palette``; here they become a Qt palette and a style sheet.
"""

from __future__ import annotations

from PySide6.QtGui import QColor, QFont, QFontDatabase, QPalette
from PySide6.QtWidgets import QApplication

from housingdesk.finding import Severity
from housingdesk.view3d.palette import Palette, mixed

JOB_CARD_WIDTH = 336
PROOF_SHEET_WIDTH = 312
TEXT_PX = 13
TITLE_PX = 19

GLYPH: dict[Severity, str] = {"pass": "✓", "caution": "!", "fail": "✕"}


def severity_colour(theme: Palette, severity: Severity) -> str:
    """Return the colour of a finding's glyph and word."""
    return {"pass": theme.good, "caution": theme.caution, "fail": theme.fail}[severity]


def system_font() -> QFont:
    """Return the system's sans serif, or DejaVu Sans where the system names none that exists."""
    font = QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)
    families = QFontDatabase.families()
    if font.family() not in families and "DejaVu Sans" in families:
        font = QFont("DejaVu Sans")
    font.setPixelSize(TEXT_PX)
    return font


def dress(app: QApplication, theme: Palette) -> None:
    """Give the whole program one theme's colours."""
    app.setPalette(_palette(theme))
    app.setStyleSheet(style_sheet(theme))


def _palette(theme: Palette) -> QPalette:
    palette = QPalette()
    role = QPalette.ColorRole
    for which, colour in (
        (role.Window, theme.paper),
        (role.WindowText, theme.ink),
        (role.Base, theme.field),
        (role.AlternateBase, theme.card),
        (role.Text, theme.ink),
        (role.PlaceholderText, theme.faint),
        (role.Button, theme.card),
        (role.ButtonText, theme.ink),
        (role.BrightText, theme.fail),
        (role.Highlight, theme.upper),
        (role.HighlightedText, theme.on_upper),
        (role.ToolTipBase, theme.ink),
        (role.ToolTipText, theme.card),
        (role.Link, theme.upper),
        (role.Mid, theme.line),
    ):
        palette.setColor(which, QColor(colour))
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, QColor(theme.faint))
    return palette


def style_sheet(theme: Palette) -> str:
    """Return the style sheet of one theme."""
    t = theme
    over = mixed(t.upper, t.ink, 0.18)
    return f"""
* {{ outline: none; }}
QMainWindow, QDialog, QMessageBox {{ background: {t.paper}; }}
QToolTip {{ background: {t.ink}; color: {t.card}; border: none; padding: 5px 7px; }}
QMenuBar {{ background: {t.card}; color: {t.ink}; border-bottom: 1px solid {t.line}; padding: 1px 14px; }}
QMenuBar::item {{ background: transparent; padding: 4px 10px; }}
QMenuBar::item:selected {{ background: {t.paper}; }}
QMenu {{ background: {t.card}; color: {t.ink}; border: 1px solid {t.line}; padding: 4px 0; }}
QMenu::item {{ padding: 5px 28px 5px 24px; }}
QMenu::item:selected {{ background: {t.upper}; color: {t.on_upper}; }}
QMenu::item:disabled {{ color: {t.faint}; background: transparent; }}
QMenu::separator {{ height: 1px; background: {t.line}; margin: 4px 0; }}
QLabel {{ color: {t.ink}; background: transparent; }}
QLabel#title {{ font-size: {TITLE_PX}px; font-weight: bold; }}
QLabel#soft, QLabel#summary {{ color: {t.soft}; }}
QLabel#link {{ color: {t.upper}; }}
QLabel#faint {{ color: {t.faint}; }}
QLabel#strong, QLabel#stationTitle {{ font-weight: bold; }}
QLabel#complaint {{ color: {t.fail}; }}
QLabel#caution {{ color: {t.caution}; }}
QWidget#card, QScrollArea#card, QWidget#cardBody {{ background: {t.card}; border: none; }}
QWidget#jobCard {{ background: {t.card}; border: none; border-right: 1px solid {t.line}; }}
QWidget#proofSheet {{ background: {t.card}; border: none; border-left: 1px solid {t.line}; }}
QWidget#sectionStrip {{ background: {t.card}; border-top: 1px solid {t.line}; }}
QWidget#benchRow {{ background: {t.paper}; }}
QFrame#stationBody {{ background: {t.paper}; border: none; border-radius: 6px; }}
QLabel#thin {{ background: {t.line}; }}
QFrame#entry {{ background: transparent; border: none; }}
QFrame#rule {{ background: {t.line}; border: none; max-height: 1px; min-height: 1px; }}
QFrame#field, QComboBox, QLineEdit#text {{
  background: {t.field}; border: 1px solid {t.rule}; border-radius: 4px; color: {t.ink}; }}
QFrame#field[focused="true"], QComboBox:focus, QLineEdit#text:focus {{ border: 2px solid {t.lower}; }}
QFrame#field[wrong="true"] {{ border: 2px solid {t.fail}; }}
QFrame#field:disabled, QComboBox:disabled {{ background: {t.card}; color: {t.faint}; }}
QLineEdit#fieldText {{ background: transparent; border: none; color: {t.ink}; padding: 0;
  selection-background-color: {t.upper}; selection-color: {t.on_upper}; }}
QLineEdit#fieldText:disabled {{ color: {t.faint}; }}
QLabel#fieldUnit {{ color: {t.faint}; }}
QLineEdit#text {{ padding: 2px 6px; }}
QComboBox {{ padding: 0 22px 0 8px; }}
QComboBox::drop-down {{ border: none; width: 20px; }}
QComboBox::down-arrow {{ image: none; border-left: 4px solid {t.card}; border-right: 4px solid {t.card};
  border-top: 5px solid {t.soft}; width: 0; height: 0; }}
QComboBox QAbstractItemView {{ background: {t.card}; color: {t.ink}; border: 1px solid {t.line};
  selection-background-color: {t.upper}; selection-color: {t.on_upper}; padding: 2px; }}
QPushButton {{ background: {t.card}; color: {t.ink}; border: 1px solid {t.rule}; border-radius: 4px;
  padding: 4px 12px; min-height: 16px; }}
QPushButton:hover {{ border-color: {t.upper}; }}
QPushButton:focus {{ border: 2px solid {t.lower}; padding: 3px 11px; }}
QPushButton:pressed {{ background: {t.line}; }}
QPushButton:disabled {{ color: {t.faint}; border-color: {t.line}; }}
QPushButton:checked {{ background: {t.upper}; color: {t.on_upper}; border-color: {t.upper}; }}
QPushButton::menu-indicator {{ image: none; border-left: 4px solid {t.card}; border-right: 4px solid {t.card};
  border-top: 5px solid {t.soft}; width: 0; height: 0; subcontrol-position: right center; right: 8px; }}
QPushButton#looks {{ padding-right: 24px; }}
QPushButton#main {{ background: {t.upper}; color: {t.on_upper}; border: 1px solid {t.upper};
  border-radius: 6px; font-weight: bold; padding: 10px 16px; }}
QPushButton#main:hover {{ background: {over}; }}
QPushButton#main:focus {{ border: 2px solid {t.lower}; padding: 9px 15px; }}
QPushButton#main:disabled {{ background: {t.line}; border-color: {t.line}; color: {t.faint}; }}
QPushButton#link {{ background: transparent; border: none; color: {t.upper};
  padding: 2px 0; text-align: left; }}
QPushButton#link:hover, QPushButton#link:focus {{ text-decoration: underline; border: none; padding: 2px 0; }}
QPushButton#link:checked {{ background: transparent; color: {t.caution}; text-decoration: underline; }}
QPushButton#link:disabled {{ color: {t.faint}; }}
QPushButton#stationHead {{ background: transparent; border: none; font-weight: bold; text-align: left;
  padding: 3px 6px; border-radius: 4px; }}
QPushButton#stationHead:hover {{ color: {t.upper}; }}
QPushButton#stationHead:focus {{ border: 2px solid {t.lower}; padding: 1px 4px; }}
QPushButton#axis {{ padding: 4px 0; min-width: 26px; max-width: 26px; }}
QPushButton#axis:focus {{ padding: 3px 0; }}
QPushButton#proposal {{ text-align: left; padding: 5px 8px; background: transparent;
  border-color: {t.line}; }}
QPushButton#proposal:checked {{ background: {t.field}; color: {t.ink}; padding: 4px 7px;
  border: 2px solid {t.upper}; }}
QLineEdit#titleEdit {{ background: transparent; border: 1px solid transparent; border-radius: 4px;
  font-size: {TITLE_PX}px; font-weight: bold; color: {t.ink}; padding: 1px 3px; }}
QLineEdit#titleEdit:hover {{ border-color: {t.line}; }}
QLineEdit#titleEdit:focus {{ background: {t.field}; border: 1px solid {t.lower}; }}
QPushButton#choice {{ text-align: left; border-radius: 6px; padding: 0; min-height: 62px;
  background: {t.card};
  border: 1px solid {t.line}; }}
QPushButton#choice:hover {{ border-color: {t.upper}; }}
QPushButton#choice:focus {{ border: 2px solid {t.lower}; padding: 0; min-height: 60px; }}
QCheckBox {{ color: {t.ink}; spacing: 6px; background: transparent; border: none; }}
QCheckBox::indicator {{ width: 12px; height: 12px; border: 1px solid {t.rule}; border-radius: 3px;
  background: {t.field}; }}
QCheckBox::indicator:checked {{ background: {t.upper}; border-color: {t.upper}; }}
QCheckBox:disabled {{ color: {t.faint}; }}
QCheckBox::indicator:checked:disabled {{ background: {t.line}; border-color: {t.rule}; }}
QCheckBox:focus {{ color: {t.upper}; text-decoration: underline; }}
QSlider {{ background: transparent; min-height: 20px; }}
QSlider::groove:horizontal {{ height: 3px; background: {t.rule}; border-radius: 1px; }}
QSlider::handle:horizontal {{ width: 16px; height: 16px; margin: -7px 0; border-radius: 8px;
  background: {t.upper}; }}
QSlider#ghost::handle:horizontal {{ background: {t.ghost}; }}
QSlider::handle:horizontal:focus {{ border: 2px solid {t.lower}; width: 12px; height: 12px;
  border-radius: 8px; }}
QSlider::handle:horizontal:disabled, QSlider#ghost::handle:horizontal:disabled {{ background: {t.line}; }}
QSplitter::handle {{ background: {t.line}; }}
QSplitter::handle:vertical {{ height: 3px; }}
QProgressBar {{ background: {t.line}; border: none; border-radius: 2px; max-height: 4px; min-height: 4px; }}
QProgressBar::chunk {{ background: {t.upper}; border-radius: 2px; }}
QScrollArea {{ border: none; background: transparent; }}
QScrollBar:vertical {{ background: transparent; width: 9px; margin: 0; }}
QScrollBar::handle:vertical {{ background: {t.line}; border-radius: 4px; min-height: 28px; }}
QScrollBar::handle:vertical:hover {{ background: {t.rule}; }}
QScrollBar::add-line, QScrollBar::sub-line, QScrollBar::add-page, QScrollBar::sub-page {{
  background: transparent; border: none; height: 0; }}
QFrame#finding {{ background: transparent; border: none; border-bottom: 1px solid {t.line}; }}
QFrame#finding[live="true"]:hover {{ background: {t.paper}; }}
QFrame#finding:focus, QFrame#finding[chosen="true"] {{ background: {t.paper};
  border-left: 3px solid {t.lower}; }}
QFrame#banner {{ background: {t.card}; border: 1px solid {t.rule}; border-radius: 6px; }}
QTextBrowser, QPlainTextEdit {{ background: {t.card}; color: {t.ink}; border: none; }}
"""
