"""The train from the side: the shaft line through its planes, and the collar where it has one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPolygonF

from .curve import Curve
from .layers import Label, Rule, Shape, circle, crisp
from .palette import Palette, palette
from .plot import Plot
from .position_words import cut_to
from .scales import GrowingScale
from .style import blend, brush, colour, condition_ink, font, line, rule, text_size
from .wording import length_number, length_text

if TYPE_CHECKING:
    from analysis.model.position_results import PlanePosition, Station, ThrustPair

_ENDS: Final = (-0.22, 1.22)
_WALL, _HALF_BEARING, _HALF_SHAFT, _HALF_COLLAR = 9.0, 17.0, 5.0, 22.0
_AXIS_ROOM, _FOOT = 62.0, 34.0


@dataclass(frozen=True, eq=False)
class TrainView:
    """What is shown: stations in order, with the planes and pairs that they name."""

    stations: tuple[Station, ...]
    planes: tuple[PlanePosition, ...]
    thrust: tuple[ThrustPair, ...]

    def plane(self, name: str) -> PlanePosition | None:
        """The plane of a station."""
        return next((each for each in self.planes if each.name == name), None)

    def pair(self, name: str) -> ThrustPair | None:
        """The axial pair of a station."""
        return next((p for p in self.thrust if f"{p.probes[0]} / {p.probes[1]}" == name), None)


class TrainPlot(Plot):
    """Shaft line within the clearances, as high as it stands; distances along it are not known."""

    plane_requested = Signal(str)

    NAME = "Along the machine"
    DESCRIPTION = (
        "The train from the side, the driver at the left: how high the shaft stands in the "
        "clearance of each plane at the moment, µm or mil (solid), how far to the right (dashed), "
        "and how far both went in the capture. Heights are exaggerated; distances along the shaft "
        "are not known. Press a plane: look at its probes. F or double click: fit."
    )
    EMPTY = "No planes yet. Open a capture whose setup has [[plane]] tables."
    MINIMUM = (240, 130)

    _view: TrainView | None

    def _build(self) -> None:
        chart = self.canvas.chart
        chart.hide_axis("bottom")
        chart.set_margins(6, 8, 12, _FOOT)
        self.canvas.left_axis.setWidth(_AXIS_ROOM)
        self._side, self._above = Curve(), Curve()
        for curve in (self._side, self._above):
            self.canvas.chart.add(curve)
        self._scale = GrowingScale(least_span=10.0)
        self._shown: object = None
        self.canvas.pressed.connect(lambda at, _modifiers: self._press(at))

    def _dress(self, colours: Palette) -> None:
        super()._dress(colours)
        self._side.setPen(line(colours.ink))
        self._above.setPen(line(colours.muted, Qt.PenStyle.DashLine))

    def _label_axes(self) -> None:
        self.canvas.left_axis.set_quantity("from centre", self._unit.value, self._unit.per_um)

    def _forget_scale(self) -> None:
        self._scale.reset()

    def subtitle(self) -> str:
        """What is exaggerated."""
        return "" if self._view is None else "heights exaggerated · distances not to scale"

    # Drawing -------------------------------------------------------------------------------------

    def _known(self) -> list[tuple[Station, PlanePosition]]:
        """Planes whose place at the moment is known, from the driver on."""
        found = []
        for station in self._view.stations:
            plane = self._view.plane(station.name)
            if plane is not None and plane.moment is not None:
                found.append((station, plane))
        return found

    def _draw(self) -> None:
        names = tuple(station.name for station in self._view.stations)
        if names != self._shown:
            self._shown = names
            self._forget_scale()
        reach = [0.0]
        for plane in self._view.planes:
            if plane.clearance_um is not None:
                reach.append(0.5 * plane.clearance_um)
            if plane.moment is not None:
                reach += [abs(plane.moment.x_um), abs(plane.moment.y_um)]
            if plane.path is not None:
                for values in (plane.path.x_um, plane.path.y_um):
                    if np.isfinite(values).any():
                        reach.append(float(np.nanmax(np.abs(values))))
        most = max(reach)
        ends = self._scale.ends
        if most > 0.0 and (ends is None or 1.15 * most > ends[1]):
            self._scale.include(-1.15 * most, 1.15 * most)
        self.canvas.set_range(_ENDS, self._scale.ends or (-100.0, 100.0))
        known = self._known()
        for curve, heights in (
            (self._side, [plane.moment.y_um for _, plane in known]),
            (self._above, [plane.moment.x_um for _, plane in known]),
        ):
            curve.setData(*_through([station.along for station, _ in known], heights))

    def _decorate(self) -> None:
        colours = palette(self._theme)
        self._show_ground((), tuple(self._machine(colours)))
        rules, shapes = self._travels(colours)
        labels = self._names(colours) + self._line_names(colours)
        if not self._known():
            labels.append(self._message("no place of the shaft is known here"))
        self.canvas.margin.show_content(labels=tuple(self._station_names(colours)))
        self.canvas.over.show_content((*rules, *self._focus_rules()), tuple(shapes), tuple(labels))

    def _make_grid(self, rect: QRectF) -> tuple[Rule, ...]:
        pen = rule(palette(self._theme).grid)
        rows = [self.canvas.to_pixels(0.0, y).y() for y in self.canvas.left_axis.grid_positions()]
        return tuple(Rule(QLineF(rect.left(), crisp(y), rect.right(), crisp(y)), pen) for y in rows)

    def _machine(self, colours: Palette) -> list[Shape]:
        """Driver, shaft, bearings and collar."""
        rect = self.canvas.data_rect()
        none, border = rule(colour("transparent")), rule(colours.border)
        steel = brush(blend(colours.muted, colours.card, 0.16))
        shapes = []
        x, y = self._side.getData()
        if x is not None and len(x):
            line_ = [self.canvas.to_pixels(a, b) for a, b in zip(x, y, strict=True)]
            down = QPointF(0.0, _HALF_SHAFT)
            outline = [at - down for at in line_] + [at + down for at in reversed(line_)]
            shapes.append(Shape(QPolygonF(outline), none, steel))
        middle = self.canvas.to_pixels(0.0, 0.0).y()
        driver = QRectF(rect.left() + 2, middle - 26, 34, 52)
        shapes.append(Shape(QPolygonF(driver), border, steel))
        for station in self._view.stations:
            across = self.canvas.to_pixels(station.along, 0.0).x()
            if station.kind == "thrust":
                height = self._height_at(station.along)
                box = QRectF(across - 4, height - _HALF_COLLAR, 8, 2 * _HALF_COLLAR)
                shapes.append(Shape(QPolygonF(box), border, steel))
                continue
            plane = self._view.plane(station.name)
            if plane is None or plane.clearance_um is None:
                continue
            radius = 0.5 * plane.clearance_um
            for edge, way in ((radius, -1.0), (-radius, 1.0)):
                y = self.canvas.to_pixels(0.0, edge).y()
                box = QRectF(across - _HALF_BEARING, y, 2 * _HALF_BEARING, 0.0)
                box.setTop(y + (way * _WALL if way < 0 else 0.0))
                box.setBottom(y + (way * _WALL if way > 0 else 0.0))
                fill = brush(colours.border, Qt.BrushStyle.BDiagPattern)
                shapes.append(Shape(QPolygonF(box), border, fill))
        return shapes

    def _height_at(self, along: float) -> float:
        x, y = self._side.getData()
        value = float(np.interp(along, x, y)) if x is not None and len(x) else 0.0
        return self.canvas.to_pixels(0.0, value).y()

    def _travels(self, colours: Palette) -> tuple[list[Rule], list[Shape]]:
        """Where the shaft is now, and how far it went in the capture."""
        rules, shapes = [], []
        for station, plane in self._known():
            for values, now, shift, ink in (
                (plane.path.y_um if plane.path else None, plane.moment.y_um, -5.0, colours.ink),
                (plane.path.x_um if plane.path else None, plane.moment.x_um, 5.0, colours.muted),
            ):
                at = self.canvas.to_pixels(station.along, now)
                if values is not None and np.isfinite(values).any():
                    low, high = float(np.nanmin(values)), float(np.nanmax(values))
                    top, bottom = (self.canvas.to_pixels(0.0, v).y() for v in (high, low))
                    x = crisp(at.x() + 2.6 * shift)
                    pen = rule(ink)
                    rules.append(Rule(QLineF(x, top, x, bottom), pen))
                    for y in (top, bottom):
                        rules.append(Rule(QLineF(x - 2.5, crisp(y), x + 2.5, crisp(y)), pen))
                filled = brush(ink) if shift < 0 else brush(colours.card)
                shapes.append(circle(at, 3.5, rule(ink), filled))
        return rules, shapes

    # Words ---------------------------------------------------------------------------------------

    def _names(self, colours: Palette) -> list[Label]:
        rect = self.canvas.data_rect()
        middle = self.canvas.to_pixels(0.0, 0.0).y()
        width, height = text_size("driver", "tiny")
        box = QRectF(rect.left() + 19 - width / 2, middle + 27, width, height)
        return [Label("driver", box, colour(colours.muted), font("tiny"))]

    def _line_names(self, colours: Palette) -> list[Label]:
        """Which line is which, at their right ends."""
        found: list[tuple[float, str, QColor]] = []
        for curve, text, ink in (
            (self._side, "height", colours.ink),
            (self._above, "to the right", colours.muted),
        ):
            x, y = curve.getData()
            if x is not None and len(x):
                found.append((self.canvas.to_pixels(0.0, float(y[-1])).y(), text, colour(ink)))
        found.sort(key=lambda each: each[0])
        rect, labels, last = self.canvas.data_rect(), [], -1e9
        for number, (y, text, ink) in enumerate(found):
            width, height = text_size(text, "tiny")
            top = y - height - 2 if number == 0 else y + 2
            top = max(min(top, rect.bottom() - height), rect.top(), last + height)
            last = top
            labels.append(Label(text, QRectF(rect.right() - width - 2, top, width, height), ink,
                                font("tiny")))  # fmt: skip
        return labels

    def _station_names(self, colours: Palette) -> list[Label]:
        """Below every station its name and what it reads."""
        rect = self.canvas.data_rect()
        steps = max(len(self._view.stations) - 1, 1)
        room = min(rect.width() / (_ENDS[1] - _ENDS[0]) / steps - 4.0, 190.0)
        labels = []
        for station in self._view.stations:
            across = self.canvas.to_pixels(station.along, 0.0).x()
            left = min(max(across - room / 2, rect.left() - 30), rect.right() + 8 - room)
            mid = Qt.AlignmentFlag.AlignHCenter
            name = QRectF(left, rect.bottom() + 2, room, 14)
            told = QRectF(left, rect.bottom() + 16, room, 14)
            text, ink = self._told(station, colours)
            if text_size(text, "tiny")[0] > room:
                text = text.removesuffix(f" {self._unit.value}")  # which the axis tells, too
            labels.append(
                Label(cut_to(station.name, room), name, colour(colours.ink), font("small"), mid)
            )
            labels.append(Label(cut_to(text, room, "tiny"), told, ink, font("tiny"), mid))
        return labels

    def _told(self, station: Station, colours: Palette) -> tuple[str, QColor]:
        muted = colour(colours.muted)
        if station.kind == "thrust":
            pair = self._view.pair(station.name)
            if pair is None:
                return "", muted
            known = [value for value in pair.moment_um if value is not None]
            if not known:
                return "no reading", muted
            at = length_text(sum(known) / len(known), self._unit)
            if pair.agree is False:
                return f"▲ {at}, they differ", condition_ink("alarm", self._theme)
            return f"thrust {at}", muted
        plane = self._view.plane(station.name)
        now = plane.moment if plane is not None else None
        if now is None:
            return "not known", muted
        up = f"{'up' if now.y_um >= 0 else 'down'} {length_number(abs(now.y_um), self._unit)}"
        side = f"{'right' if now.x_um >= 0 else 'left'} {length_text(abs(now.x_um), self._unit)}"
        assumed = plane.rest is not None and plane.rest.assumed
        return f"{up}, {side}{' (rest assumed)' if assumed else ''}", muted

    def _press(self, position: QPointF) -> None:
        if self._view is None:
            return
        for station in self._view.stations:
            across = self.canvas.to_pixels(station.along, 0.0).x()
            if abs(position.x() - across) <= 2 * _HALF_BEARING:
                self.plane_requested.emit(station.name)
                return


def _through(along: list[float], heights: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """A line through the planes; level beyond them, since its slope there is not known."""
    if not along:
        return np.empty(0), np.empty(0)
    x = np.array([_ENDS[0] + 0.08, *along, _ENDS[1] - 0.06])
    y = np.array([heights[0], *heights, heights[-1]])
    return x, y
