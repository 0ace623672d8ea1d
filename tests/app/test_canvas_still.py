"""What stands still is painted once; what has changed is never shown as it was."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QLineF, QRectF
from PySide6.QtGui import QColor, QPen

from app.plots.area import Area
from app.plots.canvas import Canvas
from app.plots.curve import Curve
from app.plots.fonts import font
from app.plots.layers import Label, Rule
from app.plots.timeline_shapes import filled_band

RED, BLUE = QPen(QColor("#ff0000")), QPen(QColor("#0000ff"))
RED.setCosmetic(True)
BLUE.setCosmetic(True)
X = np.linspace(0.0, 10.0, 50)


@pytest.fixture
def canvas(qtbot):
    canvas = Canvas()
    qtbot.addWidget(canvas)
    canvas.setBackground("#ffffff")
    canvas.curve, canvas.area = Curve(pen=RED), Area()
    canvas.area.dress(RED, QColor("#ffcccc"))
    canvas.area.setPath(filled_band(X, X * 0.0, X / 20.0))
    canvas.chart.add(canvas.curve)
    canvas.chart.add(canvas.area)
    canvas.curve.setData(X, np.sin(X))
    canvas.set_range((0.0, 10.0), (-2.0, 2.0))
    canvas.resize(400, 240)
    canvas.show()
    qtbot.waitExposed(canvas)
    return canvas


@pytest.fixture
def paints(canvas, monkeypatch):
    """How many times the curve has been painted."""
    count = []
    real = type(canvas.curve).paint

    def paint(self, *args):
        count.append(1)
        real(self, *args)

    monkeypatch.setattr(Curve, "paint", paint)
    return count


def move_mark(canvas, at):
    rect = canvas.data_rect()
    line = QLineF(rect.left() + at, rect.top(), rect.left() + at, rect.bottom())
    canvas.over.show_content((Rule(line, BLUE),))


def picture(canvas):
    return canvas.grab().toImage()


def painted_anew(canvas):
    """The same content by a canvas that keeps nothing."""
    canvas._still._key = canvas._still._pixmap = None
    return picture(canvas)


def test_a_mark_moves_over_a_picture_that_is_kept(canvas, paints):
    for at in (10, 20, 30):
        move_mark(canvas, at)
        picture(canvas)
    paints.clear()
    for at in (40, 50, 60):
        move_mark(canvas, at)
        shown = picture(canvas)
    assert not paints
    assert shown == painted_anew(canvas)
    assert paints


CHANGES = {
    "data": lambda c: c.curve.setData(X, np.cos(X)),
    "pen": lambda c: c.curve.setPen(BLUE),
    "hidden": lambda c: c.curve.setVisible(False),
    "area": lambda c: c.area.setPath(filled_band(X, X * 0.0, X / 30.0)),
    "colour of the area": lambda c: c.area.dress(BLUE, QColor("#00ff00")),
    "range": lambda c: c.set_range((0.0, 8.0), (-2.0, 2.0)),
    "size": lambda c: c.resize(380, 240),
    "ground": lambda c: c.ground.show_content((Rule(QLineF(60, 20, 200, 40), BLUE),)),
    "margin": lambda c: c.margin.show_content(
        labels=(Label("here", QRectF(60, 60, 80, 20), QColor("#0000ff"), font("small")),)
    ),
    "axis": lambda c: c.bottom.set_quantity("time", "ms", 1000.0),
    "colour of the axis": lambda c: c.left_axis.setTextPen(BLUE),
    "no axis": lambda c: c.chart.hide_axis("bottom"),
    "theme": lambda c: c.setBackground("#202020"),
    "gutter": lambda c: c.set_gutter(60),
}


@pytest.mark.parametrize("what", CHANGES)
def test_every_change_is_seen(canvas, qtbot, what):
    for _ in range(4):
        before = picture(canvas)
    CHANGES[what](canvas)
    qtbot.wait(10)
    picture(canvas)  # axes find their widths while they paint
    qtbot.wait(10)
    after = picture(canvas)
    assert after != before
    assert after == painted_anew(canvas)


@pytest.mark.qt_log_ignore("QPainter::end")
def test_an_error_while_painting_leaves_no_painter_open(canvas, monkeypatch):
    def bad(self, *_args):
        raise RuntimeError("no")

    with monkeypatch.context() as patched:
        patched.setattr(Curve, "paint", bad)
        canvas.curve.setData(X, np.cos(X))
        with pytest.raises(RuntimeError):
            canvas.grab()
    assert not picture(canvas).isNull()
