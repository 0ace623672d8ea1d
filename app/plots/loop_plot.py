"""One gap signal as two channels: position and p-p, each on the scale of its current loop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPolygonF

from analysis.protection.current_output import FAULT_MA, HIGH_MA, LEAST_MA, LOW_MA, MOST_MA

from .axes import plain_number
from .curve import Curve
from .layers import Label, Rule, Shape, crisp
from .palette import Palette, palette
from .plot import Plot
from .position_words import cut_to, upright_grid
from .style import (
    blend,
    brush,
    colour,
    condition_colour,
    condition_ink,
    font,
    line,
    probe_colour,
    rule,
    text_size,
)
from .wording import length_text, setting_text

if TYPE_CHECKING:
    from analysis.model.position_results import LoopReading, ProbePosition
    from analysis.model.setup import Setup

_RANGE: Final = (1.2, 21.4)
_LEFT, _RIGHT = 14.0, 96.0
_TITLES: Final = {"position": "Position", "peak_to_peak": "Vibration, p-p"}
_HALF_BAND = 6.0


@dataclass(frozen=True, eq=False)
class LoopView:
    """What is shown: a probe of the setup."""

    position: ProbePosition
    setup: Setup


class LoopPlot(Plot):
    """Two scales of 4 to 20 mA, one below the other, with full scale, limits and reading."""

    NAME = "One probe, two readings"
    DESCRIPTION = (
        "The chosen probe's gap signal as two channels, position and peak-to-peak: the reading in "
        "µm or mil on its full scale, what its loop carries in mA, and the V that this makes "
        "across the resistor. Dashed ▲ and solid ◆: alarm and trip. Hatched: held at the end of "
        "the scale. ✗: a circuit fault."
    )
    EMPTY = "No readings yet. Open a capture whose setup has probes, then pick a moment."
    MINIMUM = (300, 130)

    _view: LoopView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        chart.hide_axis("left")
        chart.set_margins(_LEFT, 2, _RIGHT, 2)
        self.canvas.bottom.label_wanted = False  # stands right of the ticks, to save height
        self._needle = Curve()
        self.canvas.chart.add(self._needle)
        self._index = 0

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._needle.setPen(line(colours.ink))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("loop current", "mA")

    def _forget_scale(self) -> None:
        """A current loop has one scale for all."""

    def title(self) -> str:
        """The probe, and what is shown of it."""
        return self.NAME if self._view is None else f"{self._view.position.name} as two channels"

    def subtitle(self) -> str:
        """Across which resistor the voltage stands."""
        if self._view is None:
            return ""
        ohm = plain_number(self._view.position.loops[0].resistance_ohm, 0)
        return f"volts across {ohm} Ω"

    # Drawing -------------------------------------------------------------------------------------

    def _resized(self) -> None:
        if self._view is not None:
            self._draw()
            self._decorate()

    def _middles(self) -> tuple[float, float]:
        """Heights of both scales, pixels from the top."""
        rect = self.canvas.data_rect()
        return rect.top() + 0.25 * rect.height(), rect.top() + 0.75 * rect.height()

    def _draw(self) -> None:
        names = [probe.name for probe in self._view.setup.probe]
        name = self._view.position.name
        self._index = names.index(name) if name in names else 0
        rect = self.canvas.data_rect()
        height = max(rect.height(), 40.0)
        self.canvas.set_range(_RANGE, (0.0, height))
        x, y = [], []
        for loop, middle in zip(self._view.position.loops, self._middles(), strict=True):
            if loop.current_ma is not None:
                at = rect.bottom() - middle
                x += [loop.current_ma, loop.current_ma, np.nan]
                y += [at - _HALF_BAND - 4, at + _HALF_BAND + 4, np.nan]
        self._needle.setData(np.array(x), np.array(y), connect="finite")

    def _make_grid(self, rect: QRectF) -> tuple[Rule, ...]:
        """Upright lines alone: heights mean nothing here."""
        return upright_grid(self.canvas, rect, rule(palette(self._theme).grid))

    def _decorate(self) -> None:
        colours = palette(self._theme)
        under: list[Shape] = []
        over: list[Shape] = []
        rules: list[Rule] = []
        labels: list[Label] = []
        margin: list[Label] = []
        for loop, middle in zip(self._view.position.loops, self._middles(), strict=True):
            under += self._band(loop, middle, colours)
            if loop.current_ma is not None:
                over.append(self._pointer(loop.current_ma, middle, colours))
            ends = self._ends(loop, middle, colours)
            marks, words = self._limits(loop, middle, [each.rect for each in ends])
            rules += marks
            labels += self._heading(loop, middle, colours) + ends + words
            labels += self._source(loop, middle, colours)
            margin += self._carried(loop, middle, colours)
        rect = self.canvas.data_rect()
        axis = QRectF(rect.right() + 10, rect.bottom() + 6, _RIGHT - 12, 14)
        margin.append(Label(self.canvas.bottom.text(), axis, colour(colours.muted), font("tiny")))
        self._show_ground((), tuple(under))
        self.canvas.margin.show_content(labels=tuple(margin))
        self.canvas.over.show_content((*rules, *self._focus_rules()), tuple(over), tuple(labels))

    def _x(self, current_ma: float) -> float:
        return self.canvas.to_pixels(current_ma, 0.0).x()

    def _band(self, loop: LoopReading, middle: float, colours: Palette) -> list[Shape]:
        """Scale, the held ends beside it, and the fault value."""
        none = rule(colour("transparent"))
        hue = probe_colour(self._index, self._theme)

        def box(low: float, high: float) -> QPolygonF:
            left = self._x(low)
            return QPolygonF(
                QRectF(left, middle - _HALF_BAND, self._x(high) - left, 2 * _HALF_BAND)
            )

        shapes = [
            Shape(box(LOW_MA, HIGH_MA), rule(colours.border), brush(colours.card)),
            Shape(box(LEAST_MA, LOW_MA), none, brush(colours.border, Qt.BrushStyle.BDiagPattern)),
            Shape(box(HIGH_MA, MOST_MA), none, brush(colours.border, Qt.BrushStyle.BDiagPattern)),
        ]
        if loop.current_ma is not None and not loop.fault:
            held = min(max(loop.current_ma, LOW_MA), HIGH_MA)
            fill = brush(blend(hue, colours.card, 0.45))
            shapes.append(Shape(box(LOW_MA, held), none, fill))
        return shapes

    def _pointer(self, current_ma: float, middle: float, colours: Palette) -> Shape:
        x = self._x(current_ma)
        tip = QPointF(x, middle - _HALF_BAND - 1)
        corners = QPolygonF([tip, tip + QPointF(-4, -6), tip + QPointF(4, -6)])
        return Shape(corners, rule(colours.ink), brush(colours.ink))

    def _limits(
        self, loop: LoopReading, middle: float, taken: list[QRectF]
    ) -> tuple[list[Rule], list[Label]]:
        """Limits at the currents that stand for them, and the current that stands for a fault."""
        x = crisp(self._x(FAULT_MA))
        fault = condition_colour("fault", self._theme)
        rules = [Rule(QLineF(x, middle - 8, x, middle + 9), rule(fault))]
        ink = condition_ink("fault", self._theme)
        labels = self._below(x, middle, ("✗ fault", "✗"), ink, taken)
        if loop.range_um is None:
            return rules, labels
        low, high = loop.range_um
        for limit in loop.limits:
            if not limit.on_scale:
                continue
            at = LOW_MA + (HIGH_MA - LOW_MA) * (limit.value_um - low) / (high - low)
            x = crisp(self._x(at))
            dash = Qt.PenStyle.DashLine if limit.level == "alarm" else Qt.PenStyle.SolidLine
            pen = rule(condition_colour(limit.level, self._theme), dash)
            rules.append(Rule(QLineF(x, middle - 8, x, middle + 9), pen))
            sign = "▲" if limit.level == "alarm" else "◆"
            tries = (f"{sign} {setting_text(limit.value_um, self._unit)}", sign)
            ink = condition_ink(limit.level, self._theme)
            labels += self._below(x, middle, tries, ink, taken)
        return rules, labels

    def _below(
        self, x: float, middle: float, tries: tuple[str, ...], ink: QColor, taken: list[QRectF]
    ) -> list[Label]:
        """The longest of some texts that has room under a mark."""
        whole = self.canvas.chart.boundingRect()
        for text in tries:
            width, height = text_size(text, "tiny")
            for left in (x - width / 2, x - 6.0, x - width + 4.0):
                box = QRectF(left, middle + 9, width, height)
                inside = self.canvas.data_rect().left() - 4 <= left and box.right() <= whole.right()
                if inside and not any(box.adjusted(-3, 0, 3, 0).intersects(t) for t in taken):
                    taken.append(box)
                    return [Label(text, box, ink, font("tiny"))]
        return []

    # Words ---------------------------------------------------------------------------------------

    def _heading(self, loop: LoopReading, middle: float, colours: Palette) -> list[Label]:
        rect = self.canvas.data_rect()
        top = middle - _HALF_BAND - 25
        title = _TITLES[loop.measure]
        name = QRectF(rect.left(), top, text_size(title, "small", strong=True)[0], 15)
        text, ink = self._reading(loop, colours)
        room = rect.right() - name.right() - 12
        told = QRectF(name.right() + 10, top, room, 15)
        return [
            Label(title, name, colour(colours.ink), font("small", strong=True)),
            Label(cut_to(text, room), told, ink, font("small")),
        ]

    def _reading(self, loop: LoopReading, colours: Palette) -> tuple[str, QColor]:
        if loop.fault:
            return "✗ circuit fault", condition_ink("fault", self._theme)
        if loop.value_um is None:
            return "no reading", colour(colours.muted)
        text = length_text(loop.value_um, self._unit)
        if loop.percent is not None:
            text += f", {plain_number(loop.percent, 1)} % of full scale"
        off = [limit for limit in loop.limits if not limit.on_scale]
        if loop.saturated is not None:
            words = f"▲ {text}: held at the {loop.saturated} end"
            return words, condition_ink("alarm", self._theme)
        if off:
            sign = "▲" if off[0].level == "alarm" else "◆"
            return f"{text} · {sign} limit off the scale", condition_ink("alarm", self._theme)
        return text, colour(colours.ink)

    def _ends(self, loop: LoopReading, middle: float, colours: Palette) -> list[Label]:
        """The values at 4 and at 20 mA."""
        if loop.range_um is None:
            return []
        muted, tiny = colour(colours.muted), font("tiny")
        low, high = (setting_text(value, self._unit) for value in loop.range_um)
        (low_wide, height), (high_wide, _) = (text_size(text, "tiny") for text in (low, high))
        left, right, top = self._x(LOW_MA), self._x(HIGH_MA), middle + 9
        return [
            Label(low, QRectF(left, top, low_wide, height), muted, tiny),
            Label(high, QRectF(right - high_wide, top, high_wide, height), muted, tiny),
        ]

    def _source(self, loop: LoopReading, middle: float, colours: Palette) -> list[Label]:
        """Where the full scale comes from, where the setup does not give it."""
        rect = self.canvas.data_rect()
        box = QRectF(rect.left(), middle + 21, rect.width(), 13)
        if loop.range_um is None:
            text = "no full scale: add an [[output]] to the setup"
        elif loop.range_from == "setup" or box.bottom() > rect.bottom() + 1:
            return []
        else:
            text = f"full scale: {loop.range_from}"
        text = cut_to(text, rect.width(), "tiny")
        return [Label(text, box, colour(colours.muted), font("tiny"))]

    def _carried(self, loop: LoopReading, middle: float, colours: Palette) -> list[Label]:
        """Current and voltage, right of the scale."""
        rect = self.canvas.data_rect()
        left, room = rect.right() + 10, _RIGHT - 14
        if loop.current_ma is None:
            box = QRectF(left, middle - 8, room, 15)
            return [Label("no current known", box, colour(colours.muted), font("tiny"))]
        ink = condition_ink("fault", self._theme) if loop.fault else colour(colours.ink)
        volts = "" if loop.volts is None else f"{plain_number(loop.volts, 3)} V"
        return [
            Label(
                f"{plain_number(loop.current_ma, 2)} mA",
                QRectF(left, middle - 16, room, 15),
                ink,
                font("small", strong=True),
            ),
            Label(volts, QRectF(left, middle, room, 15), ink, font("small")),
        ]

    def spoken(self) -> str:
        """Both readings in words."""
        if self._view is None:
            return ""
        told = []
        for loop in self._view.position.loops:
            text, _ = self._reading(loop, palette(self._theme))
            if loop.current_ma is not None:
                text += f", {plain_number(loop.current_ma, 2)} mA"
            told.append(f"{_TITLES[loop.measure]}: {text}")
        return "; ".join(told)
