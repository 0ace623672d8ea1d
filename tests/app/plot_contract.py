"""What every picture promises. A test class takes these in and gives a `case` fixture."""

from __future__ import annotations

import gc
import math
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyqtgraph as pg
import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QFocusEvent, QHelpEvent
from PySide6.QtWidgets import QApplication, QGraphicsPathItem, QToolTip

from analysis.model.units import LengthUnit
from app.plots import style
from app.plots.card import Card
from app.plots.plot import Plot


@dataclass(frozen=True)
class PlotCase:
    """A kind of plot, with views to feed it; `view(size)` scales what is shown by `size`."""

    make: Callable[[], Plot]
    view: Callable[[float], object]
    void: Callable[[], object]
    lengths: tuple[str, ...]


def data_items(plot: Plot) -> list[pg.PlotCurveItem | QGraphicsPathItem]:
    """The items that draw data."""
    kinds = (pg.PlotCurveItem, QGraphicsPathItem)
    return [item for item in plot.canvas.box.childGroup.childItems() if isinstance(item, kinds)]


def pen_of(item: pg.PlotCurveItem | QGraphicsPathItem):
    return item.opts["pen"] if isinstance(item, pg.PlotCurveItem) else item.pen()


def words_of(plot: Plot) -> list[str]:
    """Every word painted by the layers."""
    layers = (plot.canvas.ground, plot.canvas.margin, plot.canvas.over, plot.canvas.hover)
    return [label.text for layer in layers for label in layer.labels]


def visible_axes(plot: Plot) -> list:
    return [a for a in (plot.canvas.left_axis, plot.canvas.bottom) if a.isVisible()]


def settle() -> None:
    for _ in range(3):
        QApplication.processEvents()


class PlotContract:
    """The promises. `case` is a `PlotCase`, `plot` an instance that is shown at a fair size."""

    @pytest.fixture
    def plot(self, case, qtbot) -> Plot:
        made = case.make()
        qtbot.addWidget(made)
        made.resize(700, 420)
        made.show()
        settle()
        return made

    @pytest.fixture
    def filled(self, case, plot) -> Plot:
        plot.show_result(case.view(1.0))
        settle()
        return plot

    def test_an_empty_plot_says_what_to_do_next(self, plot):
        assert plot.is_empty()
        text = plot.empty_text()
        assert "pen a capture" in text or "pick a moment" in text
        assert plot.findChild(type(plot._empty)).isVisible()
        assert not plot.canvas.isVisible()

    def test_it_goes_back_to_the_empty_state(self, filled):
        assert filled.canvas.isVisible()
        filled.show_result(None)
        assert filled.is_empty()
        assert not filled.canvas.isVisible()

    def test_every_axis_names_its_unit_without_prefixes(self, case, filled):
        for axis in visible_axes(filled):
            assert axis.unit
            assert axis.text().endswith(axis.unit)
            assert axis.autoSIPrefix is False
            assert axis.labelUnits == ""
        told = " ".join([a.text() for a in visible_axes(filled)] + words_of(filled))
        for unit in case.lengths:
            assert unit in told

    def test_ticks_are_round_in_either_unit(self, filled):
        for unit in LengthUnit:
            filled.set_unit(unit)
            settle()
            for axis in visible_axes(filled):
                low, high = axis.range
                [(step, _)] = axis.tickSpacing(low * axis.scale, high * axis.scale, 300.0)
                mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
                assert min(abs(mantissa - m) for m in (1, 2, 5, 10)) < 1e-6

    def test_a_unit_relabels_and_moves_nothing(self, case, filled):
        before = filled.canvas.box.viewRange()
        filled.set_unit(LengthUnit.MIL)
        settle()
        assert filled.canvas.box.viewRange() == before
        told = " ".join([a.text() for a in visible_axes(filled)] + words_of(filled))
        assert "mil" in told
        assert "µm" not in told
        filled.set_unit(LengthUnit.UM)
        assert "mil" not in " ".join(words_of(filled))

    def test_a_theme_changes_every_pen_and_makes_nothing_anew(self, filled):
        items = data_items(filled)
        before = [pen_of(item).color() for item in items]
        axes = [axis.textPen().color() for axis in visible_axes(filled)]
        ground = filled.canvas.backgroundBrush().color()
        filled.set_theme(style.Theme.DARK)
        assert data_items(filled) == items
        for item, colour in zip(items, before, strict=True):
            assert pen_of(item).color() != colour
        assert all(
            axis.textPen().color() != colour
            for axis, colour in zip(visible_axes(filled), axes, strict=True)
        )
        assert filled.canvas.backgroundBrush().color() != ground
        filled.set_theme(style.Theme.LIGHT)
        assert [pen_of(item).color() for item in items] == before

    def test_data_pens_are_thin_and_cosmetic(self, filled):
        assert data_items(filled)
        for item in data_items(filled):
            assert pen_of(item).widthF() <= 1.0
            assert pen_of(item).isCosmetic()

    def test_pyqtgraph_does_nothing_by_itself(self, filled):
        assert not filled.canvas.box.menuEnabled()
        assert filled.canvas.box.mouseEnabled() == [False, False]
        assert filled.canvas.box.autoRangeEnabled() == [False, False]
        # Curves, not data items: they have neither downsampling nor clipping of their own.
        assert not any(isinstance(i, pg.PlotDataItem) for i in filled.canvas.scene().items())

    def test_nothing_but_nan_is_drawn_without_a_word_of_error(self, case, plot):
        plot.show_result(case.void())
        settle()
        plot.grab()
        assert np.isfinite(plot.canvas.box.viewRange()).all()

    def test_it_draws_again_after_nan(self, case, plot):
        plot.show_result(case.void())
        plot.show_result(case.view(1.0))
        settle()
        assert np.isfinite(plot.canvas.box.viewRange()).all()

    def test_scales_only_grow_until_fit(self, case, filled):
        small = filled.canvas.box.viewRange()
        filled.show_result(case.view(4.0))
        large = filled.canvas.box.viewRange()
        filled.show_result(case.view(1.0))
        assert filled.canvas.box.viewRange() == large
        filled.fit()
        assert np.allclose(filled.canvas.box.viewRange(), small)

    def test_it_can_be_reached_and_heard(self, filled):
        assert filled.focusPolicy() == Qt.FocusPolicy.StrongFocus
        assert filled.accessibleName()
        assert len(filled.accessibleDescription()) > 20
        assert "µm" in filled.toolTip() or "r/min" in filled.toolTip()

    def test_who_walks_by_keyboard_sees_where(self, filled):
        frames = len(filled.canvas.over.rules)
        filled.setFocus(Qt.FocusReason.MouseFocusReason)
        assert len(filled.canvas.over.rules) == frames
        filled.focusInEvent(QFocusEvent(QEvent.Type.FocusIn, Qt.FocusReason.TabFocusReason))
        assert len(filled.canvas.over.rules) == frames + 4
        filled.focusOutEvent(QFocusEvent(QEvent.Type.FocusOut))
        assert len(filled.canvas.over.rules) == frames

    @pytest.mark.qt_log_ignore(r"does not support raise\(\)")
    def test_its_tooltip_comes_up_over_the_drawing(self, filled):
        middle = filled.canvas.viewport().rect().center()
        asked = QHelpEvent(QEvent.Type.ToolTip, middle, filled.mapToGlobal(middle))
        QApplication.sendEvent(filled.canvas.viewport(), asked)
        assert QToolTip.text() == filled.toolTip()
        QToolTip.hideText()

    def test_f_fits(self, case, filled, qtbot):
        small = filled.canvas.box.viewRange()
        filled.show_result(case.view(4.0))
        filled.show_result(case.view(1.0))
        qtbot.keyClick(filled, Qt.Key.Key_F)
        assert np.allclose(filled.canvas.box.viewRange(), small)

    def test_a_card_follows_its_titles(self, case, plot):
        card = Card(plot)
        plot.show_result(case.view(1.0))
        assert card.title() == plot.title()
        assert plot.title()
        plot.setParent(None)

    def test_its_least_size_clips_no_label(self, case, filled):
        filled.resize(filled.minimumSize())
        settle()
        filled.grab()  # axes find their widths while they paint
        settle()
        whole = QPointF(filled.canvas.width(), filled.canvas.height())
        for axis in visible_axes(filled):
            if axis.label.isVisible():
                edge = axis.label.document().documentMargin()  # blank
                box = axis.label.sceneBoundingRect().adjusted(edge, edge, -edge, -edge)
                assert box.left() >= 0
                assert box.top() >= 0
                assert box.right() <= whole.x()
                assert box.bottom() <= whole.y()
        for layer in (filled.canvas.margin, filled.canvas.over):
            for label in layer.labels:
                if label.angle == 0.0 and label.text:
                    width, _ = style.text_size(label.text, _role_of(label))
                    left = label.rect.left()
                    if label.align & Qt.AlignmentFlag.AlignRight:
                        left = label.rect.right() - width
                    assert left >= -1
                    assert left + width <= whole.x() + 1

    def test_a_hundred_results_make_no_new_item(self, case, filled):
        views = [case.view(size) for size in (0.8, 1.0, 1.2)]
        for view in views:
            filled.show_result(view)
        settle()
        before = len(filled.canvas.scene().items()), len(filled.findChildren(object))
        for turn in range(100):
            filled.show_result(views[turn % 3])
        settle()
        assert (len(filled.canvas.scene().items()), len(filled.findChildren(object))) == before

    @pytest.mark.skipif(sys.version_info >= (3, 12), reason="None is immortal from Python 3.12")
    def test_repainting_does_not_eat_none(self, case, filled):
        # PySide6 6.12.0 on Python 3.11 drops some 176 references a repaint: 88,000 here.
        views = [case.view(size) for size in (0.9, 1.0)]
        gc.collect()  # what earlier tests left behind holds None, too
        before = sys.getrefcount(None)
        for turn in range(500):
            filled.show_result(views[turn % 2])
            filled.canvas.viewport().repaint()
        gc.collect()
        assert abs(sys.getrefcount(None) - before) < 2000

    def test_pictures_in_both_themes(self, case, filled, tmp_path):
        folder = Path(os.environ.get("RUNTRUE_SCREENSHOTS", tmp_path))
        folder.mkdir(parents=True, exist_ok=True)
        seen = []
        for theme in style.Theme:
            style.apply_palette(QApplication.instance(), theme)
            filled.set_theme(theme)
            settle()
            picture = filled.grab()
            name = type(filled).__name__.lower()
            assert picture.save(str(folder / f"{name}-{theme.value}.png"))
            seen.append(picture.toImage())
        style.apply_palette(QApplication.instance(), style.Theme.LIGHT)
        assert seen[0] != seen[1]
        assert seen[0].pixelColor(3, 3).lightness() > 200
        assert seen[1].pixelColor(3, 3).lightness() < 60


def _role_of(label) -> str:
    return "tiny" if label.font.pixelSize() == style.pixel_size("tiny") else "small"
