"""The only maker of pens, colours and fonts. Others ask here and never build their own."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush, QColor, QGuiApplication, QPalette, QPen
from PySide6.QtWidgets import QApplication

from .fonts import font, load_fonts, pixel_size, text_size
from .palette import Palette, Theme, palette, probe_hex
from .stylesheet import stylesheet

__all__ = [
    "Palette",
    "Theme",
    "apply_palette",
    "apply_theme",
    "blend",
    "brush",
    "colour",
    "condition_colour",
    "condition_ink",
    "configure_pyqtgraph",
    "font",
    "line",
    "load_fonts",
    "no_brush",
    "palette",
    "pixel_size",
    "probe_colour",
    "qpalette",
    "rule",
    "state_mark",
    "stylesheet",
    "system_theme",
    "text_size",
    "with_alpha",
]

_STATE_MARKS: Final = {
    "normal": ("–", "normal"),
    "alarm": ("▲", "alarm"),
    "trip": ("◆", "trip"),
    "fault": ("✗", "fault"),
    "unknown": ("?", "unknown"),
}


def state_mark(condition: str) -> tuple[str, str]:
    """Shape and word of a `LimitCondition`, such as `("▲", "alarm")`."""
    return _STATE_MARKS[condition]


def condition_colour(condition: str, theme: Theme) -> QColor:
    """Colour of a state's lines and shapes."""
    return QColor(getattr(palette(theme), condition))


def condition_ink(condition: str, theme: Theme) -> QColor:
    """Colour of a state's words."""
    colours = palette(theme)
    return QColor(colours.alarm_ink if condition == "alarm" else getattr(colours, condition))


def probe_colour(index: int, theme: Theme) -> QColor:
    """Colour of the probe at place `index` of `setup.probe`; the same on every page."""
    return QColor(probe_hex(index, theme))


def colour(name: str) -> QColor:
    """A colour of the palette, to paint with."""
    return QColor(name)


def with_alpha(colour: QColor | str, alpha: float) -> QColor:
    """The colour with an opacity of 0 to 1."""
    made = QColor(colour)
    made.setAlphaF(alpha)
    return made


def blend(colour_over: QColor | str, ground: QColor | str, share: float) -> QColor:
    """The opaque colour that `share` of one over the other looks like; cheaper than opacity."""
    over, under = QColor(colour_over), QColor(ground)
    parts = zip(over.getRgbF()[:3], under.getRgbF()[:3], strict=True)
    return QColor.fromRgbF(*(share * a + (1.0 - share) * b for a, b in parts))


def line(colour: QColor | str, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
    """A cosmetic pen, 1 px wide: thicker data curves cost ten times the frame time.

    The object is shared: copy it before changing it.
    """
    return _pen(_rgba(colour), style, True)


@lru_cache(maxsize=256)
def _pen(rgba: int, style: Qt.PenStyle, cosmetic: bool) -> QPen:
    pen = QPen(QColor.fromRgba(rgba), 1.0)
    pen.setCosmetic(cosmetic)
    if style is Qt.PenStyle.DashLine:
        pen.setDashPattern([5.0, 3.0])
    elif style is Qt.PenStyle.DashDotLine:
        pen.setDashPattern([9.0, 3.0, 1.0, 3.0])
    elif style is Qt.PenStyle.DotLine:
        pen.setDashPattern([1.0, 3.0])
    return pen


def rule(colour: QColor | str, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
    """A pen for lines and shapes laid in pixels: 1 px at 100 %, 2 px on a screen of 200 %.

    The object is shared: copy it before changing it.
    """
    return _pen(_rgba(colour), style, False)


def brush(colour: QColor | str, style: Qt.BrushStyle = Qt.BrushStyle.SolidPattern) -> QBrush:
    """A brush.

    The object is shared: copy it before changing it.
    """
    return _brush(_rgba(colour), style)


@lru_cache(maxsize=256)
def _brush(rgba: int, style: Qt.BrushStyle) -> QBrush:
    return QBrush(QColor.fromRgba(rgba), style)


def _rgba(colour: QColor | str) -> int:
    return _named_rgba(colour) if isinstance(colour, str) else colour.rgba()


@lru_cache(maxsize=256)
def _named_rgba(name: str) -> int:
    return QColor(name).rgba()


def no_brush() -> QBrush:
    """Fills nothing."""
    return QBrush(Qt.BrushStyle.NoBrush)


def configure_pyqtgraph() -> None:
    """Global options; pyqtgraph reads them as an item is made: call it before the first one."""
    pg.setConfigOptions(antialias=True, background=None, foreground=palette(Theme.LIGHT).muted)


def system_theme() -> Theme:
    """The theme that the system asks for; light where it does not say."""
    hints = QGuiApplication.styleHints()
    return Theme.DARK if hints.colorScheme() is Qt.ColorScheme.Dark else Theme.LIGHT


def qpalette(theme: Theme) -> QPalette:
    """The colours for Qt's own drawing of standard widgets."""
    colours = palette(theme)
    made = QPalette()
    role = QPalette.ColorRole
    for target, colour in {
        role.Window: colours.paper,
        role.WindowText: colours.ink,
        role.Base: colours.field,
        role.AlternateBase: colours.paper,
        role.Text: colours.ink,
        role.Button: colours.card,
        role.ButtonText: colours.ink,
        role.BrightText: colours.trip,
        role.ToolTipBase: colours.card,
        role.ToolTipText: colours.ink,
        role.PlaceholderText: colours.muted,
        role.Highlight: colours.selection,
        role.HighlightedText: colours.ink,
        role.Link: colours.accent_ink,
        role.LinkVisited: colours.accent_ink,
        role.Mid: colours.border,
        role.Midlight: colours.hairline,
        role.Light: colours.card,
        role.Dark: colours.border,
        role.Shadow: colours.border,
        role.Accent: colours.accent,
    }.items():
        made.setColor(target, QColor(colour))
    for target in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, target, QColor(colours.faint))
    return made


def apply_palette(app: QApplication, theme: Theme) -> None:
    """Style and colours of the application, without a style sheet."""
    # A style sheet hides the style's own name.
    if not app.property("dressed"):
        app.setStyle("Fusion")
        app.setProperty("dressed", True)
    app.setPalette(qpalette(theme))


def apply_theme(app: QApplication, theme: Theme) -> None:
    """Dress the whole application at once. A window with many widgets uses a wardrobe instead."""
    apply_palette(app, theme)
    app.setStyleSheet(stylesheet(theme))
