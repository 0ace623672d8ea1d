"""The words left of the ribbons: which limit, and with which setting where there is room."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF

from .layers import Label
from .limit_words import bounds_of, changed_words, value_text
from .palette import Theme, palette
from .style import colour, condition_ink, font, text_size

if TYPE_CHECKING:
    from analysis.model.setup import Limit
    from analysis.model.units import LengthUnit

    from .state_rows import PlacedRow

_LINE = 13.0


def row_names(placed: PlacedRow, unit: LengthUnit, theme: Theme) -> list[Label]:
    """The labels of one row; semi-bold where it is the chosen one."""
    row, box = placed.row, placed.box
    muted = colour(palette(theme).muted)
    strong = row.chosen
    ink = condition_ink(row.limit.level, theme)
    name = fitting(row.names(), _room(placed), strong=strong)
    if placed.in_force_ribbon is not None:
        upper, lower = placed.ribbon, placed.in_force_ribbon
        words = [_label(name, upper.center().y(), placed, ink, strong)]
        if upper.height() >= 2 * _LINE:
            words = [_label(name, upper.center().y() - _LINE / 2, placed, ink, strong)]
            tried = fitting(_settings("trial", row.limit, row.in_force, unit), _room(placed))
            words.append(_label(tried, upper.center().y() + _LINE / 2, placed, muted, False))
        before = fitting(_settings("in force", row.in_force, row.limit, unit), _room(placed))
        return [*words, _label(before, lower.center().y(), placed, muted, False)]
    if box.height() < 2 * _LINE + 2.0:
        return [_label(name, box.center().y(), placed, ink, strong)]
    setting = fitting((row.setting(unit), value_text(row.limit, unit)), _room(placed))
    return [
        _label(name, box.center().y() - _LINE / 2, placed, ink, strong),
        _label(setting, box.center().y() + _LINE / 2, placed, muted, False),
    ]


def _settings(which: str, limit: Limit, other: Limit, unit: LengthUnit) -> tuple[str, ...]:
    """What one setting has that the other has not, in many words and in few."""
    words = changed_words(limit, other, unit)
    if bounds_of(limit) != bounds_of(other) or limit.region != other.region:
        words.insert(0, value_text(limit, unit))
    return tuple(f"{which} {' · '.join(words[:count])}" for count in range(len(words), 0, -1))


def _room(placed: PlacedRow) -> float:
    return placed.box.left() - 12.0


def fitting(texts: Iterable[str], room: float, *, strong: bool = False) -> str:
    """The first text that fits; the last one cut where none does."""
    last = ""
    for last in texts:
        if text_size(last, "tiny", strong=strong)[0] <= room:
            return last
    metrics = QFontMetricsF(font("tiny", strong=strong))
    return metrics.elidedText(last, Qt.TextElideMode.ElideRight, room)


def _label(text: str, middle: float, placed: PlacedRow, ink: QColor, strong: bool) -> Label:
    box = QRectF(2.0, middle - _LINE / 2.0, placed.box.left() - 10.0, _LINE)
    return Label(text, box, ink, font("tiny", strong=strong), Qt.AlignmentFlag.AlignRight)
