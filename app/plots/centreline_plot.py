"""Path of the mean shaft position in the clearance of one plane's bearing, coloured by speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPolygonF

from .axes import nice_step, plain_number
from .centreline_shades import SHADES, is_one_speed, shade, shades_of, speed_ends
from .chip import chip
from .curve import Curve
from .layers import Label, Rule, Shape, circle
from .orbit_decor import OrbitDecor
from .orbit_labels import Places, points_on_circle
from .orbit_shapes import Clearance, thinned
from .palette import Palette, palette
from .plot import Plot
from .position_words import whole_degrees, wrapped
from .scales import GrowingScale
from .style import brush, colour, condition_ink, font, line, rule, text_size
from .wording import length_text

if TYPE_CHECKING:
    from analysis.model.position_results import CentrelinePath, PlanePosition
    from analysis.model.setup import Plane, Setup

_NEAR = 14.0
_MOST_NAMES = 5


@dataclass(frozen=True, eq=False)
class CentrelineView:
    """What is shown: a plane of the setup."""

    plane: PlanePosition
    setup: Setup

    def setup_plane(self) -> Plane:
        """The plane as the setup has it."""
        return next(each for each in self.setup.plane if each.name == self.plane.name)


class CentrelinePlot(Plot):
    """From the bearing centre where the clearance is known, else from rest."""

    moment_requested = Signal(float)

    NAME = "Shaft centreline"
    DESCRIPTION = (
        "Mean position of the shaft in its bearing, µm or mil, seen from the driver end: paler "
        "where the shaft turned slowly. Circle: how far the clearance lets the shaft centre go. "
        "Square: rest; dot: the moment, with a line from the bearing centre. Press on the path: "
        "the moment goes there. F or double click: fit."
    )
    EMPTY = (
        "No centreline yet. Open a capture whose setup has a [[plane]] of two radial probes with "
        "their gaps at rest."
    )
    MINIMUM = (170, 130)

    _view: CentrelineView | None

    def _build(self) -> None:
        self.canvas.bottom.label_wanted = False  # stands in a corner, to save height
        self._curves = tuple(Curve() for _ in SHADES)
        for curve in self._curves:
            self.canvas.chart.add(curve)
        self._scale = GrowingScale(least_span=1.0)
        self._path_drawn: object = None
        self._plane_shown = ""
        self._speeds: tuple[float, float] | None = None
        self._now_at: QPointF | None = None
        self._sides: dict[str, int] = {}
        self.canvas.pressed.connect(lambda at, _modifiers: self._press(at))
        self.canvas.moved.connect(lambda at, _buttons: self._hover(at))
        self.canvas.left.connect(lambda: self.canvas.hover.show_content())

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        for curve, share in zip(self._curves, SHADES, strict=True):
            curve.setPen(line(shade(share, self._theme)))

    def _label_axes(self) -> None:
        for axis, words in (
            (self.canvas.left_axis, "vertical"),
            (self.canvas.bottom, "horizontal"),
        ):
            axis.set_quantity(words, self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()
        self._sides.clear()

    def title(self) -> str:
        """The plane's name."""
        return self.NAME if self._view is None else self._view.plane.name

    def subtitle(self) -> str:
        """What is assumed, then eccentricity ratio and attitude angle at the moment."""
        if self._view is None:
            return ""
        now = self._view.plane.moment
        words = []
        if self._view.plane.rest is not None and self._view.plane.rest.assumed:
            words.append("rest assumed")  # first: where it is narrow the end is cut off
        if now is not None and now.eccentricity_ratio is not None:
            words.append(f"eccentricity {plain_number(now.eccentricity_ratio, 2)}")
        if now is not None and now.attitude_deg is not None:
            words.append(f"attitude {whole_degrees(now.attitude_deg)}°")
        return " · ".join(words)

    # Drawing -------------------------------------------------------------------------------------

    def show_result(self, view: CentrelineView | None) -> None:
        """Draw a view; one whose shaft has not moved by half a pixel changes words alone."""
        if view is not None and self._view is not None and self._is_still(view):
            self._view = view
            self._tell_titles()
        else:
            super().show_result(view)

    def _is_still(self, view: CentrelineView) -> bool:
        mine, theirs = self._view.plane, view.plane
        if view.setup is not self._view.setup or mine.name != theirs.name:
            return False
        if mine.path is not theirs.path or mine.rest is not theirs.rest:
            return False
        if theirs.moment is None or self._now_at is None:
            return False
        away = self.canvas.to_pixels(theirs.moment.x_um, theirs.moment.y_um) - self._now_at
        return max(abs(away.x()), abs(away.y())) < 0.5

    def _resized(self) -> None:
        self._sides.clear()
        if self._view is not None:
            self._draw()
            self._decorate()

    def _draw(self) -> None:
        plane = self._view.plane
        if self._plane_shown != plane.name:
            self._plane_shown = plane.name
            self._forget_scale()
        self._set_equal_range()
        pixel = self._um_per_pixel() / max(self.devicePixelRatioF(), 1.0)
        drawn = (id(plane.path), pixel)
        if drawn != self._path_drawn:
            self._path_drawn = drawn
            self._draw_path(plane.path, pixel)

    def _draw_path(self, path: CentrelinePath | None, pixel_um: float) -> None:
        """One curve a shade; each starts where the one before it ended."""
        self._speeds = None if path is None else speed_ends(path)
        shades = shades_of(path, self._speeds)
        for rank, curve in enumerate(self._curves):
            if path is None or not (shades == rank).any():
                curve.setData([], [])
                continue
            mine = shades == rank
            mine[:-1] |= mine[1:] & np.isfinite(path.x_um[:-1])
            x = np.where(mine, path.x_um, np.nan)
            y = np.where(mine, path.y_um, np.nan)
            curve.setData(*thinned(x, y, pixel_um), connect="finite")

    def _um_per_pixel(self) -> float:
        (x0, x1), _ = self.canvas.box.viewRange()
        return float((x1 - x0) / max(self.canvas.data_rect().width(), 1.0))

    def _set_equal_range(self) -> None:
        radius = self._radius()
        rect = self.canvas.data_rect()
        shorter = max(min(rect.width(), rect.height()), 1.0)
        half_x, half_y = (radius * size / shorter for size in (rect.width(), rect.height()))
        if half_x > 0 and half_y > 0:
            self.canvas.set_range((-half_x, half_x), (-half_y, half_y))

    def _radius(self) -> float:
        plane = self._view.plane
        reach = 0.0 if plane.clearance_um is None else plane.clearance_um / 2.0
        if plane.path is not None:
            for values in (plane.path.x_um, plane.path.y_um):
                if np.isfinite(values).any():
                    reach = max(reach, float(np.nanmax(np.abs(values))))
        if plane.moment is not None:
            reach = max(reach, abs(plane.moment.x_um), abs(plane.moment.y_um))
        ends = self._scale.ends
        if reach == 0.0 or (ends is not None and reach <= ends[1]):
            return ends[1] if ends is not None else 100.0
        return self._scale.include(0.0, reach * 1.12)[1]

    # Decoration ----------------------------------------------------------------------------------

    def _decorate(self) -> None:
        colours, view = palette(self._theme), self._view
        now = view.plane.moment
        self._now_at = None if now is None else self.canvas.to_pixels(now.x_um, now.y_um)
        places = self._places()
        decor = OrbitDecor(self.canvas, self._theme, self._unit, places)
        axes, labels = decor.probe_axes(view.setup_plane(), view.setup)
        shapes: list[Shape] = []
        if view.plane.clearance_um is not None:
            clearance = Clearance(0.0, 0.0, view.plane.clearance_um / 2.0)
            shapes += decor.clearance_shapes(clearance)
            edge = self.canvas.to_pixels(clearance.radius_um, 0.0)
            centre = self.canvas.to_pixels(0.0, 0.0)
            places.avoid(*points_on_circle(centre, edge.x() - centre.x()))
        self._show_ground((*decor.cross(), *axes), tuple(shapes))
        if view.plane.path is None:
            self._say_missing(labels, colours)
            return
        rules, marks, named = self._marks(places, colours)
        labels += named
        labels += self._speed_names(places)
        muted = colour(colours.muted)
        labels += self._rest_words(decor)
        if view.plane.clearance_um is not None:
            told = f"clearance {length_text(view.plane.clearance_um, self._unit)}"
        else:
            told = "from rest: no clearance given"
        for text in (told, self.canvas.bottom.text()):
            label = self._in_free_corner(text, muted, places)
            labels += [] if label is None else [label]
        if not np.isfinite(view.plane.path.x_um).any():
            labels.append(self._message("no position here:\ncircuit fault or\ndropped samples"))
        self.canvas.over.show_content((*rules, *self._focus_rules()), tuple(marks), tuple(labels))

    def _say_missing(self, labels: list[Label], colours: Palette) -> None:
        text = wrapped(self._view.plane.missing, self.canvas.data_rect().width() - 16)
        labels = [*labels, self._message(text)]
        self.canvas.over.show_content(self._focus_rules(), (), tuple(labels))

    def _rest_words(self, decor: OrbitDecor) -> list[Label]:
        """Said when nobody measured the shaft at rest."""
        plane = self._view.plane
        texts = []
        if plane.rest is not None and plane.rest.assumed:
            at = "" if plane.rest.speed_rpm is None else f": {plane.rest.speed_rpm:.0f} r/min"
            texts.append(f"▲ rest assumed{at}")
        if plane.direction_assumed and plane.clearance_um is not None:
            texts.append(f"▲ rests at the {plane.rest_towards}: assumed")
        labels = [decor.in_corner(text, condition_ink("alarm", self._theme)) for text in texts]
        return [label for label in labels if label is not None]

    def _marks(
        self, places: Places, colours: Palette
    ) -> tuple[list[Rule], list[Shape], list[Label]]:
        """Rest, and the moment with the line of centres."""
        view = self._view
        plane = view.setup_plane()
        ink = colour(colours.ink)
        rules: list[Rule] = []
        marks: list[Shape] = []
        labels: list[Label] = []
        radius = 0.0 if plane.clearance_um is None else plane.clearance_um / 2.0
        towards = _TOWARDS[plane.rest]
        rest = self.canvas.to_pixels(towards[0] * radius, towards[1] * radius)
        square = QRectF(rest.x() - 3.5, rest.y() - 3.5, 7.0, 7.0)
        marks.append(Shape(QPolygonF(square), rule(colours.muted), brush(colours.card)))
        places.take(square)
        now = view.plane.moment
        if now is not None:
            centre, to = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(now.x_um, now.y_um)
            places.avoid(np.linspace(centre.x(), to.x(), 40), np.linspace(centre.y(), to.y(), 40))
        labels += self._beside(rest, "rest", colour(colours.muted), places)
        if now is not None:
            at = self.canvas.to_pixels(now.x_um, now.y_um)
            if view.plane.clearance_um is not None:
                rules.append(Rule(QLineF(self.canvas.to_pixels(0.0, 0.0), at), rule(ink)))
            marks.append(circle(at, 4.5, rule(colours.card), brush(ink)))
            places.take(QRectF(at.x() - 5, at.y() - 5, 10, 10))
            labels += self._beside(at, "now", ink, places)
        return rules, marks, labels

    def _beside(self, at: QPointF, text: str, ink: QColor, places: Places) -> list[Label]:
        width, height = text_size(text, "tiny")
        tries = []
        for away in (8.0, 14.0, 22.0):
            tries += [
                QRectF(at.x() + away, at.y() - height / 2, width, height),
                QRectF(at.x() - away - width, at.y() - height / 2, width, height),
                QRectF(at.x() - width / 2, at.y() + away - 2, width, height),
                QRectF(at.x() - width / 2, at.y() - away + 2 - height, width, height),
            ]
        # The side that was free last, while it is: words that hop about are not read.
        last = self._sides.get(text)
        if last is not None and places.are_free([tries[last]])[0]:
            place: QRectF | None = tries[last]
            places.take(tries[last])
        else:
            place = places.first(tries)
            if place is not None:
                self._sides[text] = tries.index(place)
        return [] if place is None else [Label(text, place, ink, font("tiny"))]

    def _in_free_corner(self, text: str, ink: QColor, places: Places) -> Label | None:
        """In a corner that is free of everything; nowhere else."""
        rect = self.canvas.data_rect().adjusted(5, 3, -5, -3)
        width, height = text_size(text, "tiny")
        boxes = [
            QRectF(x, y, width, height)
            for y in (rect.bottom() - height, rect.top())
            for x in (rect.right() - width, rect.left())
        ]
        free = np.flatnonzero(places.are_free(boxes, strict=True))
        if not len(free):
            return None
        places.take(boxes[free[0]])
        return Label(text, boxes[free[0]], ink, font("tiny"))

    def _speed_names(self, places: Places) -> list[Label]:
        """Round speeds beside the path where it first came through them."""
        path = self._view.plane.path
        if path is None or self._speeds is None:
            return []
        low, high = self._speeds
        if is_one_speed(self._speeds):
            return []
        step = nice_step((high - low) / _MOST_NAMES)
        labels: list[Label] = []
        known = np.isfinite(path.x_um) & np.isfinite(path.speed_rpm)
        speeds = [k * step for k in range(int(np.ceil(low / step)), int(high / step) + 1)]
        for speed in speeds:
            above = np.flatnonzero(known & (path.speed_rpm >= speed))
            if len(above):
                unit = "" if labels else " r/min"
                labels += self._name_at(int(above[0]), f"{speed:.0f}{unit}", places)
        return labels

    def _name_at(self, row: int | None, text: str, places: Places) -> list[Label]:
        path = self._view.plane.path
        if row is None or path is None:
            return []
        at = self.canvas.to_pixels(float(path.x_um[row]), float(path.y_um[row]))
        return self._beside(at, text, colour(palette(self._theme).muted), places)

    def _places(self) -> Places:
        path = self._view.plane.path
        rect = self.canvas.data_rect()
        if path is None:
            return Places(rect.adjusted(1, 1, -1, -1), np.empty(0), np.empty(0))
        stride = max(len(path.x_um) // 400, 1)
        x, y = path.x_um[::stride], path.y_um[::stride]
        good = np.isfinite(x) & np.isfinite(y)
        zero, one = self.canvas.to_pixels(0.0, 0.0), self.canvas.to_pixels(1.0, 1.0)
        px = zero.x() + x[good] * (one.x() - zero.x())
        py = zero.y() + y[good] * (one.y() - zero.y())
        return Places(rect.adjusted(1, 1, -1, -1), px, py)

    # Hand ----------------------------------------------------------------------------------------

    def _row_near(self, position: QPointF) -> int | None:
        """The turn whose place is nearest to the hand."""
        path = self._view.plane.path if self._view is not None else None
        if path is None or not np.isfinite(path.x_um).any():
            return None
        at = self.canvas.to_data(position)
        away = np.hypot(path.x_um - at.x(), path.y_um - at.y())
        row = int(np.nanargmin(away))
        return row if away[row] <= _NEAR * self._um_per_pixel() else None

    def _press(self, position: QPointF) -> None:
        row = self._row_near(position)
        if row is not None:
            self.moment_requested.emit(float(self._view.plane.path.time_s[row]))

    def _hover(self, position: QPointF) -> None:
        row = self._row_near(position)
        shape = Qt.CursorShape.ArrowCursor if row is None else Qt.CursorShape.PointingHandCursor
        if self.canvas.viewport().cursor().shape() != shape:
            self.canvas.viewport().setCursor(shape)
        if row is None:
            self.canvas.hover.show_content()
            return
        path = self._view.plane.path
        words = [f"{plain_number(float(path.time_s[row]), 2)} s"]
        if np.isfinite(path.speed_rpm[row]):
            words.append(f"{path.speed_rpm[row]:.0f} r/min")
        if np.isfinite(path.eccentricity_ratio[row]):
            words.append(f"eccentricity {path.eccentricity_ratio[row]:.2f}")
        if np.isfinite(path.attitude_deg[row]):
            words.append(f"attitude {whole_degrees(path.attitude_deg[row])}°")
        area = self.canvas.chart.boundingRect()
        ground, label = chip(" · ".join(words), position, area, palette(self._theme))
        self.canvas.hover.show_content((), (ground,), (label,))


_TOWARDS: Final = {
    "bottom": (0.0, -1.0),
    "top": (0.0, 1.0),
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
    "centre": (0.0, 0.0),
}
