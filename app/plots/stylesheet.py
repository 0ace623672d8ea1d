"""The style sheet of the whole application, one text a theme.

Roles are Qt properties: `QPushButton[role="page"]` (page switcher), `[role="primary"]`,
`[role="quiet"]` (small tools without a frame); `QLabel[role="title" | "subtitle" | "muted" |
"empty" | "alarm" | "trip" | "normal" | "fault" | "unknown"]`; `QFrame[role="card" | "banner"]`.
Set the property before the widget is shown, or polish it again afterwards.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from string import Template

from .fonts import pixel_size
from .palette import Theme, palette

_SHEET = Template(
    """
* { outline: none; }
QMainWindow, QDialog, QWidget[role="page"] { background: $paper; }
QLabel, QCheckBox, QRadioButton, QGroupBox { color: $ink; background: transparent; }
QLabel[role="title"] { font-weight: 600; }
QLabel[role="subtitle"], QLabel[role="muted"] { color: $muted; }
QLabel[role="footer"] { color: $muted; font-size: ${small}px; }
QLabel[role="empty"] { color: $muted; padding: 16px; }
QLabel[role="normal"] { color: $normal; font-weight: 600; }
QLabel[role="alarm"] { color: $alarm_ink; font-weight: 600; }
QLabel[role="trip"] { color: $trip; font-weight: 600; }
QLabel[role="fault"] { color: $fault; font-weight: 600; }
QLabel[role="unknown"] { color: $unknown; font-weight: 600; }
QLabel:disabled, QCheckBox:disabled, QRadioButton:disabled { color: $faint; }

QFrame[role="card"] { background: $card; border: 1px solid $hairline; border-radius: 5px; }
QFrame[role="card"][chosen="true"] { border-color: $accent; }
QFrame[role="card"]:focus { border-color: $focus; }
QFrame[role="finding"] { border: 1px solid transparent; border-radius: 4px; }
QFrame[role="finding"]:hover { background: $selection; }
QFrame[role="finding"]:focus { border-color: $focus; }
QFrame[role="banner"] { background: $selection; border: 1px solid $hairline; border-radius: 5px; }

QPushButton, QToolButton {
    color: $ink; background: $card; border: 1px solid $border; border-radius: 4px;
    padding: 4px 12px; min-height: 18px;
}
QToolButton { padding: 3px 8px; }
QPushButton:hover, QToolButton:hover { background: $selection; border-color: $accent; }
QPushButton:pressed, QToolButton:pressed, QToolButton:checked { background: $selection; }
QPushButton:focus, QToolButton:focus { border: 1px solid $focus; }
QPushButton:disabled, QToolButton:disabled { color: $faint; border-color: $hairline; }
QPushButton[role="primary"] { color: $on_accent; background: $accent; border-color: $accent; }
QPushButton[role="primary"]:hover { background: $accent_hover; }
QPushButton[role="primary"]:focus { border: 2px solid $ink; padding: 3px 11px; }
QPushButton[role="page"] {
    color: $muted; background: transparent; border: 1px solid transparent;
    border-radius: 4px; padding: 5px 18px;
}
QPushButton[role="page"]:hover { color: $ink; border-color: $hairline; }
QPushButton[role="page"]:checked { color: $on_accent; background: $accent; }
QPushButton[role="page"]:focus { border: 1px solid $focus; }
QPushButton[role="page"]:checked:focus { border: 1px solid $ink; }
QPushButton[role="page"]:disabled { color: $faint; }
QPushButton[role="quiet"], QToolButton[role="quiet"] {
    color: $muted; background: transparent; border: 1px solid transparent; border-radius: 4px;
    padding: 1px 6px; min-height: 16px; font-size: ${small}px;
}
QPushButton[role="quiet"]:hover, QToolButton[role="quiet"]:hover {
    color: $ink; border-color: $hairline;
}
QPushButton[role="quiet"]:checked, QToolButton[role="quiet"]:checked {
    color: $accent_ink; font-weight: 600;
}
QPushButton[role="quiet"]:focus, QToolButton[role="quiet"]:focus { border-color: $focus; }
QToolButton::menu-indicator { image: none; }
QPushButton[role="leaf"] {
    color: $muted; background: transparent; border: none; border-bottom: 2px solid transparent;
    border-radius: 0; padding: 2px 5px 1px 5px; min-height: 16px; font-size: ${small}px;
}
QPushButton[role="leaf"]:hover { color: $ink; }
QPushButton[role="leaf"]:checked { color: $ink; border-bottom-color: $accent; }
QPushButton[role="leaf"]:focus { color: $accent_ink; border-bottom-color: $focus; }
QToolButton[role="chooser"] { font-weight: 600; padding: 3px 10px; }

QLineEdit, QPlainTextEdit, QTextEdit, QTextBrowser, QSpinBox, QDoubleSpinBox, QComboBox {
    color: $ink; background: $field; border: 1px solid $border; border-radius: 4px;
    selection-background-color: $selection; selection-color: $ink;
}
QLineEdit, QSpinBox, QDoubleSpinBox, QComboBox { padding: 3px 8px; min-height: 18px; }
QLineEdit:focus, QPlainTextEdit:focus, QTextEdit:focus, QTextBrowser:focus, QSpinBox:focus,
QDoubleSpinBox:focus, QComboBox:focus { border: 1px solid $focus; }
QLineEdit:disabled, QSpinBox:disabled, QDoubleSpinBox:disabled, QComboBox:disabled {
    color: $faint;
}
QLineEdit[invalid="true"], QSpinBox[invalid="true"], QDoubleSpinBox[invalid="true"] {
    border: 1px solid $trip;
}
QSpinBox[tried="true"], QDoubleSpinBox[tried="true"] { border: 1px solid $accent; }
QDoubleSpinBox[tried="true"]:focus { border: 1px solid $focus; }
QCheckBox[tried="true"] { color: $accent_ink; }
QComboBox::drop-down { border: none; width: 20px; }
QComboBox::down-arrow { image: url("$arrow_down"); width: 9px; height: 9px; }
QComboBox QAbstractItemView {
    color: $ink; background: $card; border: 1px solid $border;
    selection-background-color: $selection; selection-color: $ink;
}
QSpinBox::up-button, QDoubleSpinBox::up-button, QSpinBox::down-button,
QDoubleSpinBox::down-button { border: none; width: 16px; background: transparent; }
QSpinBox::up-arrow, QDoubleSpinBox::up-arrow { image: url("$arrow_up"); width: 8px; height: 8px; }
QSpinBox::down-arrow, QDoubleSpinBox::down-arrow {
    image: url("$arrow_down"); width: 8px; height: 8px;
}
QCheckBox:focus, QRadioButton:focus { color: $accent_ink; }
QCheckBox::indicator {
    width: 13px; height: 13px; background: $field; border: 1px solid $border; border-radius: 3px;
}
QCheckBox::indicator:hover, QCheckBox::indicator:focus { border-color: $focus; }
QCheckBox::indicator:checked {
    background: $accent; border-color: $accent; image: url("$check");
}
QCheckBox::indicator:disabled { border-color: $hairline; background: $paper; }

QMenuBar { background: $paper; color: $ink; }
QMenuBar::item { padding: 4px 10px; background: transparent; border-radius: 3px; }
QMenuBar::item:selected { background: $selection; }
QMenu { color: $ink; background: $card; border: 1px solid $border; padding: 4px; }
QMenu::item { padding: 4px 28px 4px 24px; border-radius: 3px; }
QMenu::item:selected { background: $selection; }
QMenu::item:disabled { color: $faint; }
QMenu::separator { height: 1px; background: $hairline; margin: 4px 6px; }
QToolTip { color: $ink; background: $card; border: 1px solid $border; padding: 4px 6px; }
QStatusBar { background: $paper; color: $muted; }
QStatusBar::item { border: none; }

QAbstractItemView { color: $ink; background: $card; alternate-background-color: $paper; }
QTableView, QTreeView, QListView {
    border: none; gridline-color: $grid;
    selection-background-color: $selection; selection-color: $ink;
}
QTableView::item { padding: 2px 6px; }
QTableView[role="sheet"]::item { padding: 1px 3px; }
QTableView[role="sheet"] QLineEdit {
    padding: 0 3px; min-height: 0; border-radius: 0; border: 1px solid $focus;
}
QTableView:focus, QTreeView:focus, QListView:focus { border: 1px solid $focus; }
QHeaderView { background: transparent; }
QHeaderView::section {
    color: $muted; background: transparent; border: none;
    border-bottom: 1px solid $hairline; padding: 3px 6px;
}
QHeaderView::section:vertical { border: none; }
QTableCornerButton::section { background: transparent; border: none; }

QScrollArea { border: none; background: transparent; }
QScrollBar:vertical { background: transparent; width: 10px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 10px; margin: 0; }
QScrollBar::handle { background: $border; border-radius: 3px; margin: 2px; }
QScrollBar::handle:hover { background: $muted; }
QScrollBar::handle:vertical { min-height: 28px; }
QScrollBar::handle:horizontal { min-width: 28px; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }

QProgressBar {
    color: $ink; background: $out_of_range; border: none; border-radius: 3px;
    min-height: 6px; max-height: 6px; text-align: center;
}
QProgressBar::chunk { background: $accent; border-radius: 3px; }
QSplitter::handle { background: $paper; }
QTabBar::tab { color: $muted; background: transparent; padding: 5px 12px; border: none; }
QTabBar::tab:selected { color: $ink; border-bottom: 2px solid $accent; }
QTabWidget::pane { border: 1px solid $hairline; }
QGroupBox { border: 1px solid $hairline; border-radius: 5px; margin-top: 9px; padding-top: 6px; }
QGroupBox::title { subcontrol-origin: margin; left: 10px; padding: 0 4px; color: $muted; }
"""
)


def stylesheet(theme: Theme) -> str:
    """The style sheet of a theme."""
    up, down, check = (_icon_path(name, theme) for name in ("arrow-up", "arrow-down", "check"))
    return _SHEET.substitute(
        vars(palette(theme)),
        small=pixel_size("small"),
        arrow_up=up,
        arrow_down=down,
        check=check,
    )


def _icon_path(name: str, theme: Theme) -> str:
    return Path(str(files("resources") / "icons" / f"{name}-{theme.value}.svg")).as_posix()
