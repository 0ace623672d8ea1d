"""Spectrum of a probe (one-sided) or of an orbit (two-sided), against Hz or orders."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QKeyEvent

from .axes import nice_step, plain_number
from .columns import columns_of
from .curve import Curve
from .dodge import first_free
from .layers import Label, Rule, Shape, circle, crisp
from .palette import Palette, palette
from .plot import Plot
from .scales import GrowingScale
from .spectrum_peaks import frequency_text, largest_peaks
from .style import brush, colour, font, line, rule, text_size, with_alpha
from .wording import length_number, length_text
from .zoom import ZoomX

if TYPE_CHECKING:
    from analysis.model.results import Floats, SpectrumResult

_SHOWN_ORDERS = 4.0
_SMALL = 0.02
"""Lines above this share of the largest belong into the frequency scale."""

_FLAT_PIXELS = 0.2
"""Lines lower than this lie on the axis, as far as anybody can see."""


class SpectrumPlot(Plot):
    """Amplitude against frequency; in a two-sided one, backward is left and forward right."""

    NAME = "Spectrum"
    DESCRIPTION = (
        "Amplitude in µm or mil against frequency in orders of running speed or in Hz. Two-sided: "
        "forward precession to the right of zero, backward to the left. "
        "Wheel or + and −: zoom in frequency. F or double click: fit."
    )
    EMPTY = (
        "No spectrum yet. A two-sided one needs a [[plane]] of two radial probes, orders need a "
        "phase reference or a speed; then pick a moment on the timeline."
    )
    MINIMUM = (240, 150)

    _view: SpectrumResult | None

    def _build(self) -> None:
        self._curve = Curve(fillLevel=0.0)
        self.canvas.chart.add(self._curve)
        self._height = GrowingScale(least_span=1.0)
        self._reach = GrowingScale(least_span=1.0)
        self._kind: tuple[str, bool, str] | None = None
        self._zoom = ZoomX()
        self._reduced = False
        self.canvas.wheeled.connect(self._wheel)
        self.canvas.moved.connect(lambda position, _buttons: self._hover(position))
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._curve.setPen(line(colours.accent))
        self._curve.setBrush(brush(with_alpha(colours.accent, 0.55)))

    def _label_axes(self) -> None:
        scaling = self._view.scaling if self._view is not None else "p-p"
        unit = {"p-p": "p-p", "peak": "0-peak", "rms": "rms"}[scaling]
        self.canvas.left_axis.set_quantity(
            "amplitude", f"{self._unit.value} {unit}", self._unit.per_um
        )
        orders = self._view is None or self._view.axis == "orders"
        self.canvas.bottom.set_quantity("frequency", "orders" if orders else "Hz")

    def _forget_scale(self) -> None:
        self._height.reset()
        self._reach.reset()
        self._zoom.reset()

    def title(self) -> str:
        """One- or two-sided."""
        if self._view is None:
            return self.NAME
        return "Two-sided spectrum" if self._view.two_sided else "Spectrum"

    def subtitle(self) -> str:
        """Scaling, window and resolution; the directions stand in the picture itself."""
        view = self._view
        if view is None:
            return ""
        unit = "orders" if view.axis == "orders" else "Hz"
        words = [view.window.capitalize(), f"lines {view.resolution:.3g} {unit} apart"]
        if self._reduced:
            words.append("peak of each pixel column")
        return " · ".join(words)

    def _draw(self) -> None:
        view = self._view
        kind = (view.axis, view.two_sided, view.scaling)
        if kind != self._kind:
            self._kind = kind
            self._forget_scale()
            self._label_axes()
        whole = self._whole()
        finite = view.amplitude_um[np.isfinite(view.amplitude_um)]
        top = max(float(finite.max()) if len(finite) else 1.0, 1e-3)
        ends = self._height.ends
        if ends is None or top * 1.05 > ends[1]:
            self._height.include(0.0, top * 1.18)  # room for a label over the highest line
        x_range = self._zoom.range_within(*whole)
        self._put_curve(*x_range)
        self.canvas.set_range(x_range, (0.0, self._height.ends[1]))

    def _resized(self) -> None:
        if self._view is not None:
            self._draw()  # as many columns as there are pixels
            self._decorate()
            self._tell_titles()

    def _put_curve(self, low: float, high: float) -> None:
        f, a = self._view.frequency, self._view.amplitude_um
        start = max(int(np.searchsorted(f, low)) - 1, 0)
        stop = min(int(np.searchsorted(f, high, side="right")) + 1, len(f))
        f, a = f[start:stop], a[start:stop]
        columns = max(int(self.canvas.data_rect().width()), 100)
        self._reduced = len(f) > 2 * columns
        if self._reduced:
            cut = columns_of(f, float(f[0]), float(f[-1]), columns)
            f, a = cut.centres, cut.highest(a)
        self._curve.setData(*self._without_flat(f, a), connect="finite")

    def _without_flat(self, f: Floats, a: Floats) -> tuple[Floats, Floats]:
        """The curve without the points between those that can be seen to rise, and their feet.

        A spectrum is mostly nothing, and filling what lies under it is the dearest part of a frame.
        """
        if len(a) < 3:
            return f, a
        pixel = self._height.ends[1] / max(self.canvas.data_rect().height(), 1.0)
        rises = ~(a < _FLAT_PIXELS * pixel)  # so does NaN: gaps stay
        kept = rises.copy()
        kept[1:] |= rises[:-1]
        kept[:-1] |= rises[1:]
        kept[[0, -1]] = True
        return f[kept], a[kept]

    def _whole(self) -> tuple[float, float]:
        view = self._view
        f, a = view.frequency, view.amplitude_um
        if len(f) == 0:
            return (-1.0, 1.0) if view.two_sided else (0.0, 1.0)
        end = float(np.abs(f).max())
        seen = (
            np.abs(f[np.nan_to_num(a) >= _SMALL * np.nanmax(a)]) if np.isfinite(a).any() else f[:1]
        )
        reach = float(np.abs(seen).max()) if len(seen) else end
        if view.axis == "orders":
            reach = max(reach, _SHOWN_ORDERS)
        ends = self._reach.ends
        if ends is None or reach > ends[1]:
            step = nice_step(max(reach, 1e-9) / 8)
            self._reach.include(0.0, min(np.ceil(reach * 1.05 / step) * step, end))
        reach = min(self._reach.ends[1], end)
        return (-reach, reach) if view.two_sided else (0.0, reach)

    # Decoration ----------------------------------------------------------------------------------

    def _decorate(self) -> None:
        colours = palette(self._theme)
        rect = self.canvas.data_rect()
        rules: list[Rule] = []
        labels = self._direction_labels(colours) if self._view.two_sided else []
        if self._view.two_sided:
            zero = crisp(self.canvas.to_pixels(0.0, 0.0).x())
            rules.append(Rule(QLineF(zero, rect.top(), zero, rect.bottom()), rule(colours.axis)))
        self._show_ground(tuple(rules))
        peaks, leaders = self._peak_labels(colours, [label.rect for label in labels])
        labels += peaks
        if not np.isfinite(self._view.amplitude_um).any():
            labels.append(self._message("no spectrum here:\ncircuit fault or\ndropped samples"))
        self.canvas.over.show_content((*leaders, *self._focus_rules()), (), tuple(labels))
        self.canvas.hover.show_content()

    def _direction_labels(self, colours: Palette) -> list[Label]:
        rect = self.canvas.data_rect()
        ink, used = colour(colours.muted), font("tiny")
        box = QRectF(rect.left() + 6, rect.top() + 1, rect.width() - 12, 15)
        made = []
        for text, align in (
            ("← backward", Qt.AlignmentFlag.AlignLeft),
            ("forward →", Qt.AlignmentFlag.AlignRight),
        ):
            width, _ = text_size(text, "tiny")
            left = box.left() if align == Qt.AlignmentFlag.AlignLeft else box.right() - width
            made.append(Label(text, QRectF(left, box.top(), width, 15), ink, used))
        return made

    def _peak_labels(self, colours: Palette, taken: list[QRectF]) -> tuple[list[Label], list[Rule]]:
        view = self._view
        rect = self.canvas.data_rect()
        x0, x1 = self.canvas.box.viewRange()[0]
        peaks = largest_peaks(view, x0, x1)
        stems = [self.canvas.to_pixels(p.frequency, p.amplitude_um) for p in peaks]
        taken = [*taken, *(QRectF(s.x() - 2, s.y(), 4, rect.bottom() - s.y()) for s in stems)]
        used = font("tiny")
        labels, leaders = [], []
        for peak, at in zip(peaks, stems, strict=True):
            name = frequency_text(peak.frequency, view.axis, view.resolution)
            text = f"{name} · {length_number(peak.amplitude_um, self._unit)}"
            width, height = text_size(text, "tiny")
            box = first_free(_around(at, width, height, rect), taken)
            if box is None:
                continue
            taken.append(box)
            labels.append(Label(text, box, colour(colours.ink), used))
            if box.bottom() < at.y() - height:  # far from its line
                start = QPointF(min(max(at.x(), box.left()), box.right()), box.bottom())
                leaders.append(Rule(QLineF(start, at), rule(colours.faint)))
        return labels, leaders

    # Hand ----------------------------------------------------------------------------------------

    def _wheel(self, steps: float, position: QPointF) -> None:
        if self._view is not None:
            self._zoom_by(0.8**steps, self.canvas.to_data(position).x())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """`+` and `−` zoom in frequency about the highest line shown."""
        factor = {Qt.Key.Key_Plus: 0.8, Qt.Key.Key_Equal: 0.8, Qt.Key.Key_Minus: 1.25}.get(
            event.key()
        )
        if factor is None or self._view is None:
            super().keyPressEvent(event)
            return
        peaks = largest_peaks(self._view, *self.canvas.box.viewRange()[0], most=1)
        self._zoom_by(factor, peaks[0].frequency if peaks else 0.0)

    def _zoom_by(self, factor: float, centre: float) -> None:
        whole = self._whole()
        self._zoom.by(factor, min(max(centre, whole[0]), whole[1]), *whole)
        self._draw()
        self._decorate()
        self._tell_titles()

    def _hover(self, position: QPointF) -> None:
        rect = self.canvas.data_rect()
        view = self._view
        if view is None or len(view.frequency) == 0 or not rect.contains(position):
            self.canvas.hover.show_content()
            return
        index = int(np.argmin(np.abs(view.frequency - self.canvas.to_data(position).x())))
        f, a = float(view.frequency[index]), float(view.amplitude_um[index])
        if not np.isfinite(a):
            return
        colours = palette(self._theme)
        at = self.canvas.to_pixels(f, a)
        where = f"{plain_number(f, 3)}X" if view.axis == "orders" else f"{plain_number(f, 2)} Hz"
        text = f"{where} · {length_text(a, self._unit)}"
        label = Label(
            text,
            self.canvas.corner(),
            colour(colours.ink),
            font("small"),
            Qt.AlignmentFlag.AlignRight,
        )
        column = crisp(at.x())
        hairline = Rule(QLineF(column, rect.top(), column, rect.bottom()), rule(colours.faint))
        dot: Shape = circle(at, 2.5, rule(colours.ink), brush(colours.ink))
        self.canvas.hover.show_content((hairline,), (dot,), (label,))


def _around(at: QPointF, width: float, height: float, rect: QRectF) -> Iterator[QRectF]:
    """Places for a label round a peak: above, right, left, then higher up.

    One by one, since the first of them is mostly free.
    """
    inside = QRectF(rect.adjusted(2, 1, -2, -1))
    for place in _places(at.x(), at.y(), width, height, inside):
        if inside.contains(place):
            yield place


def _places(x: float, y: float, width: float, height: float, inside: QRectF) -> Iterator[QRectF]:
    above = y - height - 1
    yield QRectF(x - width / 2, above, width, height)
    for top in (y - height / 2, y + height / 2):
        yield QRectF(x + 5, top, width, height)
        yield QRectF(x - 5 - width, top, width, height)
    clamped = min(max(x - width / 2, inside.left()), inside.right() - width)
    for rank in range(4):
        for left in (x - width / 2, x - width + 5, x - 5, clamped):
            yield QRectF(left, above - height * rank, width, height)
