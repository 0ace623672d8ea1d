"""Limits as lines across a gap axis, with their labels at the end of the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt

from .dodge import spread
from .layers import Label, Rule, crisp
from .style import condition_colour, condition_ink, font, rule, state_mark, text_size
from .wording import setting_text

if TYPE_CHECKING:
    from analysis.model.results import ProbeReading
    from analysis.model.setup import Level, Setup
    from analysis.model.units import LengthUnit

    from .canvas import Canvas
    from .palette import Theme

_GUTTER_SHARE = 0.2
"""Share of the picture that labels in one line may take; beyond it they break into two."""


@dataclass(frozen=True)
class LimitLine:
    """One limit on a gap axis: levels in µm of gap, and what the label says in two parts."""

    level: Level
    at_um: tuple[float, ...]
    words: str
    setting_um: float
    suffix: str
    band: bool

    def text(self, unit: LengthUnit, *, joined: bool) -> str:
        """The label, such as `▲ alarm 125 µm p-p`, in one line or two."""
        mark = state_mark(self.level)[0]
        value = f"{setting_text(self.setting_um, unit)}{self.suffix}"
        return f"{mark} {self.words}{' ' if joined else chr(10)}{value}"


def limit_lines(
    reading: ProbeReading, setup: Setup, mean_um: float | None
) -> tuple[LimitLine, ...]:
    """The peak-to-peak and position limits in force, trips first."""
    found: list[LimitLine] = []
    for limit_reading in reading.limits:
        limit = setup.limit[limit_reading.index]
        above, below = limit_reading.above_um, limit_reading.below_um
        if limit.measure == "peak_to_peak" and above is not None and mean_um is not None:
            raised = limit.above is not None and above > limit.above * (1 + 1e-9)
            suffix = f" p-p ×{above / limit.above:g}" if raised and limit.above else " p-p"
            ends = (mean_um + above / 2, mean_um - above / 2)
            found.append(LimitLine(limit.level, ends, limit.level, above, suffix, True))
        elif limit.measure == "position":
            for value in (above, below):
                if value is not None:
                    words = f"position {limit.level}"
                    found.append(LimitLine(limit.level, (value,), words, value, "", False))
    return tuple(sorted(found, key=lambda each: each.level != "trip"))


class LimitLineDrawing:
    """Lays limit lines over a canvas: the lines themselves, and labels in the gutter."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas

    def gutter(self, lines: Sequence[LimitLine], unit: LengthUnit) -> float:
        """Width that the labels need right of the data area."""
        if not lines:
            return 20.0
        return 20.0 + max(text_size(self._text(each, unit), "tiny")[0] for each in lines)

    def _text(self, each: LimitLine, unit: LengthUnit) -> str:
        """The label, in two lines where one would take too much of the width."""
        text = each.text(unit, joined=True)
        room = max(_GUTTER_SHARE * self._canvas.width(), 116.0)
        return text if text_size(text, "tiny")[0] <= room else each.text(unit, joined=False)

    def lay(
        self, lines: Sequence[LimitLine], unit: LengthUnit, theme: Theme
    ) -> tuple[tuple[Rule, ...], tuple[Rule, ...], tuple[Label, ...]]:
        """Lines inside the data area, leaders in the gutter, labels in the gutter."""
        rect = self._canvas.data_rect()
        rules: list[Rule] = []
        wanted: list[float] = []
        texts: list[tuple[LimitLine, str, bool]] = []
        for each in lines:
            inside = [y for y in map(self._pixel, each.at_um) if rect.top() <= y <= rect.bottom()]
            style = Qt.PenStyle.DashLine if each.level == "alarm" else Qt.PenStyle.SolidLine
            pen = rule(condition_colour(each.level, theme), style)
            rules += [Rule(QLineF(rect.left(), y, rect.right(), y), pen) for y in inside]
            text = self._text(each, unit)
            if inside:
                wanted.append(min(inside))
            else:
                above = self._pixel(each.at_um[0]) < rect.top()
                text = f"{'↑' if above else '↓'}{text[1:]}"
                wanted.append(rect.top() if above else rect.bottom())
            texts.append((each, text, bool(inside)))
        leaders, labels = self._labels(texts, wanted, rect, theme)
        return tuple(rules), leaders, labels

    def _pixel(self, gap_um: float) -> float:
        return crisp(self._canvas.to_pixels(0.0, gap_um).y())

    @staticmethod
    def _labels(
        texts: Sequence[tuple[LimitLine, str, bool]],
        wanted: Sequence[float],
        rect: QRectF,
        theme: Theme,
    ) -> tuple[tuple[Rule, ...], tuple[Label, ...]]:
        heights = [text_size(text, "tiny")[1] for _, text, _ in texts]
        places = spread(
            wanted, [height + 2 for height in heights], rect.top() - 4, rect.bottom() + 8
        )
        labels: list[Label] = []
        leaders: list[Rule] = []
        rows = zip(texts, wanted, places, heights, strict=True)
        for (each, text, inside), at, middle, height in rows:
            left = rect.right() + 12
            box = QRectF(left, middle - height / 2, 160, height)
            labels.append(Label(text, box, condition_ink(each.level, theme), font("tiny")))
            if inside:
                pen = rule(condition_colour(each.level, theme))
                start, end = QPointF(rect.right() + 1, at), QPointF(left - 3, middle)
                leaders.append(Rule(QLineF(start, end), pen))
        return tuple(leaders), tuple(labels)
