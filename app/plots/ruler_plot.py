"""Every probe's gap on its linear range, one ruler a probe."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPolygonF

from .chip import chip
from .curve import Curve
from .layers import Label, Rule, Shape, crisp
from .palette import Palette, palette
from .plot import Plot
from .position_words import SEVERITY_STATES, cut_to, margin_text, upright_grid, use_text
from .ruler_rows import RulerLine, RulerRow, RulerView, ruler_rows
from .scales import GrowingScale
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
    state_mark,
    text_size,
)
from .wording import setting_text

_NAME, _WHICH, _MARGIN = 80.0, 46.0, 96.0
LEFT_ROOM = _NAME + _WHICH + _MARGIN + 8.0
RIGHT_ROOM = _MARGIN + 8.0
_TOP_ROOM = 16.0
_PAD = 0.06
_SHARES = {"capture": 0.28, "span": 0.5, "moment": 0.85}
_LEAST_OUTSIDE = 2.5
_DASHES = {
    "alarm": Qt.PenStyle.DashLine,
    "trip": Qt.PenStyle.SolidLine,
    "fault": Qt.PenStyle.DotLine,
}


class RulerPlot(Plot):
    """Linear range as a band; a bar from the least to the largest gap; a tick at the mean.

    `probe_requested(name)`: the reader wants this probe looked at.
    """

    probe_requested = Signal(str)

    NAME = "Gap on the linear range"
    DESCRIPTION = (
        "Every probe's gap, µm or mil, on its linear range (the band): a bar from the least to the "
        "largest gap of any sample, with a tick at the mean, over the whole capture, the chosen "
        "span and the moment. Red: beyond an end. Dashed ▲ and solid ◆: alarm and trip of "
        "position; ✗: the circuit reports a fault. Beside it the margins to the near end and the "
        "far end. Press a row, or Up and Down: look at that probe."
    )
    EMPTY = "No gaps yet. Open a capture whose setup has probes."
    MINIMUM = (420, 120)

    _view: RulerView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        chart.hide_axis("left")
        chart.set_margins(LEFT_ROOM, _TOP_ROOM, RIGHT_ROOM, 2)
        self._whiskers = Curve()
        self.canvas.chart.add(self._whiskers)
        self._scale = GrowingScale(least_span=100.0)
        self._rows: tuple[RulerRow, ...] = ()
        self._laid: object = None
        self._fixed: tuple[list[Shape], list[Rule], list[Label]] = ([], [], [])
        self._scaled_for: object = None
        self.canvas.bottom.label_wanted = False
        self.canvas.pressed.connect(self._press)
        self.canvas.moved.connect(lambda at, _buttons: self._hover(at))
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._whiskers.setPen(line(colours.ink))

    def _label_axes(self) -> None:
        self.canvas.bottom.set_quantity("gap", self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def subtitle(self) -> str:
        """What the bars are."""
        return "" if self._view is None else "bar: every sample · tick: mean · band: linear range"

    # Drawing -------------------------------------------------------------------------------------

    def follow(self, view: RulerView) -> None:
        """Show the bars of a view; its figures come with `show_figures`, or where rows change."""
        if self._view is None:
            self.show_result(view)
            return
        self._view = view
        self._draw()
        if self._layout() == self._laid:
            self._show_bars()
        else:
            self._decorate()

    def show_figures(self) -> None:
        """Write the figures of what is shown."""
        if self._view is not None:
            colours = palette(self._theme)
            labels = self._headings(colours)
            for row in self._rows:
                labels += self._words_of(row, colours)
            self.canvas.margin.show_content(labels=tuple(labels))

    def _layout(self) -> tuple[object, ...]:
        """What rows, bands and limits are laid by."""
        view, rect = self._view, self.canvas.data_rect()
        probes = tuple(
            (p.name, p.linear_range_um, p.marks, p.stops_um, len(row.lines))
            for row in self._rows
            for p in (row.probe,)
        )
        return self._scale.ends, rect.getRect(), view.chosen, probes

    def _draw(self) -> None:
        scaled_for = (self._view.setup.probe,)
        if scaled_for != self._scaled_for:
            self._scaled_for = scaled_for
            self._forget_scale()
        values = [value for probe in self._view.probes for value in _reach(probe)]
        if values:
            low, high = min(values), max(values)
            ends = self._scale.ends
            if ends is None or low < ends[0] or high > ends[1]:
                pad = _PAD * (high - low)
                self._scale.include(low - pad, high + pad)
        ends = self._scale.ends or (0.0, 2500.0)
        rect = self.canvas.data_rect()
        height = max(rect.height(), 40.0)
        self.canvas.set_range(ends, (0.0, height))
        self._rows = ruler_rows(self._view, rect)
        x, y = [], []
        for row in self._rows:
            for each in row.lines:
                if each.use is not None:
                    middle = rect.bottom() - each.box.center().y()
                    x += [each.use.min_um, each.use.max_um, np.nan]
                    y += [middle, middle, np.nan]
        self._whiskers.setData(np.array(x), np.array(y), connect="finite")

    def _resized(self) -> None:
        if self._view is not None:
            self._draw()
            self._decorate()

    def _make_grid(self, rect: QRectF) -> tuple[Rule, ...]:
        """Upright lines alone: heights mean nothing here."""
        return upright_grid(self.canvas, rect, rule(palette(self._theme).grid))

    def _decorate(self) -> None:
        colours = palette(self._theme)
        self._laid = self._layout()
        self._fixed = ([], [], [])
        for row in self._rows:
            marks, signs = self._marks(row)
            for known, more in zip(
                self._fixed, (self._ground_of(row, colours), marks, signs), strict=True
            ):
                known += more
        self._show_bars()
        self.show_figures()

    def _show_bars(self) -> None:
        colours = palette(self._theme)
        grounds, marks, signs = self._fixed
        under, over, rules = list(grounds), [], list(marks)
        for row in self._rows:
            for each in row.lines:
                bar, more = self._bar(row, each, colours)
                under += bar
                over += more
                rules += self._mean(each, colours)
        glyphs = list(signs)
        if not any(each.use for row in self._rows for each in row.lines):
            glyphs.append(self._message("no reading of any probe here"))
        self._show_ground((), tuple(under))
        self.canvas.over.show_content((*rules, *self._focus_rules()), tuple(over), tuple(glyphs))

    def _x(self, gap_um: float) -> float:
        rect = self.canvas.data_rect()
        return min(max(self.canvas.to_pixels(gap_um, 0.0).x(), rect.left()), rect.right())

    def _ground_of(self, row: RulerRow, colours: Palette) -> list[Shape]:
        none = rule(colour("transparent"))
        found = []
        if row.probe.name == self._view.chosen:
            whole = self.canvas.chart.boundingRect()
            box = QRectF(whole.left() + 2, row.box.top(), whole.width() - 4, row.box.height())
            fill = brush(blend(colours.accent, colours.card, 0.1))
            found.append(Shape(QPolygonF(box), none, fill))
        if row.probe.linear_range_um is not None:
            left, right = (self._x(end) for end in row.probe.linear_range_um)
            top, bottom = row.lines[0].box.top(), row.lines[-1].box.bottom()
            box = QRectF(left, top, right - left, bottom - top)
            edge = rule(colours.in_range)
            found.append(
                Shape(QPolygonF(box), edge, brush(blend(colours.in_range, colours.card, 0.22)))
            )
        return found

    def _bar(
        self, row: RulerRow, each: RulerLine, colours: Palette
    ) -> tuple[list[Shape], list[Shape]]:
        """From the least to the largest gap, and what of it lies beyond an end."""
        use = each.use
        if use is None:
            return [], []
        none = rule(colour("transparent"))
        hue = probe_colour(self._place(row), self._theme)
        left, right = self._x(use.min_um), self._x(use.max_um)
        thick = each.box.adjusted(0, 1.5, 0, -1.5)
        box = QRectF(left, thick.top(), max(right - left, 2.0), thick.height())
        fill = brush(blend(hue, colours.card, _SHARES[each.which]))
        found = [Shape(QPolygonF(box), none, fill)]
        beyond = []
        red = brush(condition_colour("trip", self._theme))
        if use.near_margin_um is not None and use.near_margin_um < 0.0:
            edge = self._x(row.probe.linear_range_um[0])
            beyond.append(QRectF(min(left, edge - _LEAST_OUTSIDE), 0, 0, 0))
            beyond[-1].setRight(edge)
        if use.far_margin_um is not None and use.far_margin_um < 0.0:
            edge = self._x(row.probe.linear_range_um[1])
            beyond.append(QRectF(edge, 0, max(right - edge, _LEAST_OUTSIDE), 0))
        over = []
        for part in beyond:
            shown = QRectF(part.left(), thick.top(), part.width(), thick.height())
            over.append(Shape(QPolygonF(shown), none, red))
        return found, over

    def _mean(self, each: RulerLine, colours: Palette) -> list[Rule]:
        if each.use is None:
            return []
        x = crisp(self._x(each.use.mean_um))
        return [
            Rule(QLineF(x, each.box.top() + 0.5, x, each.box.bottom() - 0.5), rule(colours.ink))
        ]

    def _marks(self, row: RulerRow) -> tuple[list[Rule], list[Label]]:
        """Position limits, and where the circuit reports a fault."""
        low, high = self._scale.ends or (0.0, 2500.0)
        top, bottom = row.box.top() + 1, row.box.bottom() - 1
        found = [(mark.gap_um, mark.level, _DASHES[mark.level]) for mark in row.probe.marks]
        found += [(stop, "fault", _DASHES["fault"]) for stop in row.probe.stops_um if stop]
        rules: list[Rule] = []
        glyphs: list[Label] = []
        for gap_um, condition, dash in found:
            if not low <= gap_um <= high:
                continue
            x = crisp(self._x(gap_um))
            pen = rule(condition_colour(condition, self._theme), dash)
            rules.append(Rule(QLineF(x, top, x, bottom), pen))
            # Where the scale is narrow, the lines of two limits stand closer than their signs.
            for high_up in (True, False):
                glyph = self._glyph(state_mark(condition)[0], x, condition, row, high_up)
                if not any(glyph.rect.intersects(other.rect) for other in glyphs):
                    glyphs.append(glyph)
                    break
        return rules, glyphs

    def _glyph(self, sign: str, x: float, condition: str, row: RulerRow, high_up: bool) -> Label:
        width, height = text_size(sign, "tiny")
        top = row.box.top() - 1 if high_up else row.box.bottom() - height + 1
        box = QRectF(x - width / 2, top, width, height)
        return Label(sign, box, condition_ink(condition, self._theme), font("tiny"))

    # Words ---------------------------------------------------------------------------------------

    def _headings(self, colours: Palette) -> list[Label]:
        rect = self.canvas.data_rect()
        muted, tiny = colour(colours.muted), font("tiny")
        right, left = Qt.AlignmentFlag.AlignRight, Qt.AlignmentFlag.AlignLeft
        near = QRectF(rect.left() - _MARGIN - 6, rect.top() - 15, _MARGIN, 14)
        far = QRectF(rect.right() + 8, rect.top() - 15, _MARGIN, 14)
        axis = QRectF(rect.left() - _MARGIN - 6, rect.bottom() + 6, _MARGIN - 14, 14)
        return [
            Label("to near end", near, muted, tiny, right),
            Label("to far end", far, muted, tiny, left),
            Label(self.canvas.bottom.text(), axis, muted, tiny, right),
        ]

    def _words_of(self, row: RulerRow, colours: Palette) -> list[Label]:
        rect = self.canvas.data_rect()
        right, left = Qt.AlignmentFlag.AlignRight, Qt.AlignmentFlag.AlignLeft
        hue = probe_colour(self._place(row), self._theme)
        state = self._view.states.get(row.probe.name)
        name_at = QRectF(8.0, row.box.center().y() - 15.0, _NAME - 8.0, 15.0)
        if row.box.height() < 30.0 or state is None:
            name_at.moveTop(row.box.center().y() - 7.5)
        found = [
            Label(cut_to(row.probe.name, _NAME - 10), name_at, hue, font("small", strong=True))
        ]
        if state is not None and row.box.height() >= 30.0:
            ink = condition_ink(SEVERITY_STATES[state.severity], self._theme)
            text = cut_to(state.text, _NAME - 8, "tiny")
            found.append(Label(text, name_at.translated(0.0, 15.0), ink, font("tiny")))
        muted = colour(colours.muted)
        for each in row.lines:
            top, height = each.box.top(), each.box.height()
            which = QRectF(_NAME, top, _WHICH, height)
            found.append(Label(each.which, which, muted, font("tiny")))
            use = each.use
            for end, box, align in (
                ("near", QRectF(rect.left() - _MARGIN - 6, top, _MARGIN, height), right),
                ("far", QRectF(rect.right() + 8, top, _MARGIN, height), left),
            ):
                text, loud = self._margin_of(use, end)
                ink = condition_ink("trip", self._theme) if loud else colour(colours.ink)
                found.append(Label(text, box, ink, font("tiny"), align))
        return found

    def _margin_of(self, use: object, end: str) -> tuple[str, bool]:
        if use is None:
            return "–", False
        margin = use.near_margin_um if end == "near" else use.far_margin_um
        share = use.near_share if end == "near" else use.far_share
        return margin_text(margin, share, self._unit), margin is not None and margin < 0.0

    def _place(self, row: RulerRow) -> int:
        names = [probe.name for probe in self._view.setup.probe]
        return names.index(row.probe.name) if row.probe.name in names else row.place

    # Hand and keyboard ---------------------------------------------------------------------------

    def _row_at(self, position: QPointF) -> RulerRow | None:
        return next((r for r in self._rows if r.box.top() <= position.y() < r.box.bottom()), None)

    def _press(self, position: QPointF, _modifiers: object) -> None:
        row = self._row_at(position) if self._view is not None else None
        if row is not None:
            self.probe_requested.emit(row.probe.name)

    def _hover(self, position: QPointF) -> None:
        row = self._row_at(position) if self._view is not None else None
        shape = Qt.CursorShape.PointingHandCursor if row else Qt.CursorShape.ArrowCursor
        if self.canvas.viewport().cursor().shape() != shape:
            self.canvas.viewport().setCursor(shape)
        if row is None:
            self.canvas.hover.show_content()
            return
        whole = self.canvas.chart.boundingRect()
        ground, label = chip(self._row_words(row, position), position, whole, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))

    def _row_words(self, row: RulerRow, position: QPointF) -> str:
        at = self.canvas.to_pixels
        near = [
            mark for mark in row.probe.marks if abs(at(mark.gap_um, 0.0).x() - position.x()) < 4.0
        ]
        if near:
            mark = near[0]
            return (
                f"{row.probe.name} {mark.level} {mark.side} {setting_text(mark.gap_um, self._unit)}"
            )
        each = min(row.lines, key=lambda one: abs(one.box.center().y() - position.y()))
        return f"{row.probe.name}, {each.which}: {use_text(each.use, self._unit)}"

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and Down ask for the probe above or below."""
        steps = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}
        if self._view is None or event.key() not in steps or event.modifiers():
            super().keyPressEvent(event)
            return
        names = [probe.name for probe in self._view.probes]
        now = names.index(self._view.chosen) if self._view.chosen in names else -1
        place = min(max(now + steps[event.key()], 0), len(names) - 1)
        if names and place != now:
            self.probe_requested.emit(names[place])


def _reach(probe: object) -> list[float]:
    """Gaps that belong into the scale."""
    values = list(probe.linear_range_um or ())
    for use in (probe.capture, probe.chosen, probe.moment):
        if use is not None:
            values += [use.min_um, use.max_um]
    return [value for value in values if np.isfinite(value)]
