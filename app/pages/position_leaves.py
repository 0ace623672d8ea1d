"""The Position page's lower right card: one leaf in sight, each made when it is first turned to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.plots.time_plot import TimePlot
from app.widgets import words
from app.widgets.position_sheet import position_sheet, probe_of_row
from app.widgets.sheet import Sheet, SheetData
from app.widgets.tab_card import TabCard
from app.widgets.theming import theme_of

from .position_phases import NO_PLANE

if TYPE_CHECKING:
    from analysis.model.setup import Setup
    from analysis.views.position import PositionResult
    from app.plots.plot import Plot
    from app.plots.style import Theme
    from app.session.session import Session

LEAST_HEIGHT = 100
NO_THRUST = 'No thrust position: the setup has no two probes of kind = "axial".'
LEAVES = (
    ("point", "Working point", "On the calibration curve, V against µm or mil"),
    ("centreline", "Centreline", "In the bearing's clearance, µm or mil"),
    ("train", "Side view", "The planes along the machine, from the side, µm or mil"),
    ("thrust", "Thrust", "Both axial probes, µm or mil"),
    ("loops", "Two readings", "Position and p-p of one probe as two current loops, mA"),
    ("figures", "Figures", "Every probe in numbers: means, extremes, margins, time outside"),
)


def _kinds(key: str) -> tuple[type[Plot], ...]:
    """The pictures of a leaf."""
    # Here and not above: the page stands before these are loaded.
    from app.plots.centreline_plot import CentrelinePlot
    from app.plots.loop_plot import LoopPlot
    from app.plots.thrust_plot import ThrustPlot
    from app.plots.train_plot import TrainPlot
    from app.plots.working_point_plot import WorkingPointPlot

    return {
        "point": (WorkingPointPlot,),
        "centreline": (CentrelinePlot, CentrelinePlot),
        "train": (TrainPlot,),
        "thrust": (ThrustPlot,),
        "loops": (LoopPlot,),
        "figures": (),
    }[key]


def join_session(plot: Plot, session: Session) -> None:
    """Give a new picture unit, theme and time of the session, and take its wishes there."""
    plot.set_unit(session.unit.unit)
    plot.set_theme(theme_of(session.theme))
    if isinstance(plot, TimePlot):
        plot.span_requested.connect(session.choose_span)
        plot.zoom_requested.connect(session.zoom.by)
        plot.pan_requested.connect(session.zoom.pan)
        plot.set_time_range(session.zoom.seen if session.zoom.zoomed else None)
        plot.set_span(session.span.span)
        moment_s = session.moment.moment_s
        plot.set_moment(moment_s, words.seconds(moment_s))
    if hasattr(plot, "moment_requested"):
        plot.moment_requested.connect(session.moment.set)


class PositionLeaves(TabCard):
    """Draws what it is told of; `plane_requested(name)` when a plane of the train is pressed."""

    plane_requested = Signal(str)

    def __init__(self, session: Session) -> None:
        self._session = session
        self._places = {key: QWidget() for key, _, _ in LEAVES}
        for place in self._places.values():
            column = QVBoxLayout(place)
            column.setContentsMargins(0, 0, 0, 0)
        self._stock: dict[str, list[Plot]] = {}
        self._made: dict[str, QWidget] = {}
        self._plots: dict[str, tuple[Plot, ...]] = {}
        super().__init__(
            "More of this probe and of the machine",
            [(key, title, tip, self._places[key]) for key, title, tip in LEAVES],
        )

    def plots(self) -> tuple[Plot, ...]:
        """The pictures that have been made."""
        return tuple(plot for plots in self._plots.values() for plot in plots)

    def plots_of(self, key: str) -> tuple[Plot, ...]:
        """The pictures of a leaf, made where they have not been."""
        self._make(key)
        return self._plots[key]

    def parts(self) -> int:
        """How many parts the leaf in sight is drawn in."""
        return max(len(_kinds(self.leaf)), 1)

    def missing_parts(self) -> int:
        """How many calls of `make_part` the leaf in sight needs before it stands."""
        if self.leaf in self._made:
            return 0
        return len(_kinds(self.leaf)) + 1 - len(self._stock.get(self.leaf, ()))

    def make_part(self, key: str | None = None) -> None:
        """Make what is missing of a leaf, by default of the one in sight: a picture a call."""
        key = key or self.leaf
        if key in self._made:
            return
        kinds, stock = _kinds(key), self._stock.setdefault(key, [])
        if len(stock) < len(kinds):
            stock.append(kinds[len(stock)]())
        else:
            self._build(key, tuple(self._stock.pop(key)))

    def make_next(self) -> bool:
        """Make a part of a leaf that does not stand yet; false when all of them do."""
        missing = [key for key, _, _ in LEAVES if key not in self._made]
        if missing:
            self.make_part(missing[0])
        return bool(missing)

    def _make(self, key: str) -> QWidget:
        """A leaf, made whole where it has not been."""
        while key not in self._made:
            self.make_part(key)
        return self._made[key]

    def _build(self, key: str, plots: tuple[Plot, ...]) -> None:
        from .position_parts import Captioned, CentrelineLeaf, PointLeaf, ThrustLeaf

        makers = {
            "point": PointLeaf,
            "centreline": CentrelineLeaf,
            "thrust": ThrustLeaf,
            "figures": self._make_figures,
        }
        self._made[key], self._plots[key] = makers.get(key, Captioned)(*plots), plots
        for plot in plots:
            self._join(plot)
        self._places[key].layout().addWidget(self._made[key])

    def _make_figures(self) -> Sheet:
        sheet = Sheet("Every probe on its linear range, in numbers")
        sheet.set_theme(theme_of(self._session.theme))
        sheet.clicked.connect(
            lambda at: self._session.choose_probe(probe_of_row(sheet.cells.sheet, at.row()))
        )
        return sheet

    def dress(self, theme: Theme) -> None:
        """Light or dark."""
        for plot in self.plots():
            plot.set_theme(theme)
        if "figures" in self._made:
            self._made["figures"].set_theme(theme)

    def _join(self, plot: Plot) -> None:
        plot.setMinimumHeight(LEAST_HEIGHT)
        join_session(plot, self._session)
        if hasattr(plot, "plane_requested"):
            plot.plane_requested.connect(self.plane_requested)

    # Drawing -------------------------------------------------------------------------------------

    def draw_nothing(self, empty: str) -> None:
        """Say why there is nothing."""
        for plot in self.plots():
            plot.set_empty_text(empty or plot.EMPTY)
            plot.show_result(None)
        if "figures" in self._made:
            self._made["figures"].set_sheet(SheetData())

    def draw(
        self,
        result: PositionResult,
        setup: Setup,
        chosen: str | None,
        waiting: str = "",
        place: int | None = None,
    ) -> None:
        """Draw the leaf in sight, and no other; `waiting`: why the capture is not known yet.

        `place`: only that one of its pictures, where it has more.
        """
        from app.plots.centreline_plot import CentrelineView
        from app.plots.loop_plot import LoopView
        from app.plots.thrust_plot import ThrustView
        from app.plots.train_plot import TrainView
        from app.plots.working_point_plot import WorkingPointView

        leaf, widget = self.leaf, self._make(self.leaf)
        position = result.probes.get(chosen) if chosen is not None else None
        for number, plot in enumerate(self._plots[leaf]):
            if place in (None, number):
                plot.set_empty_text(plot.EMPTY)
        if leaf == "figures":
            widget.set_sheet(position_sheet(result.probes, result.request.unit))
        elif leaf == "point":
            widget.plot.show_result(WorkingPointView(position, setup) if position else None)
        elif leaf == "loops":
            widget.plot.show_result(LoopView(position, setup) if position else None)
        elif leaf == "centreline":
            views = [CentrelineView(plane, setup) for plane in result.planes.values()]
            widget.show_views(views, chosen, NO_PLANE, place)
        elif leaf == "train":
            known = tuple(result.planes.values())
            view = TrainView(result.train, known, result.thrust) if result.train else None
            widget.plot.show_result(view)
        else:
            whole = self._session.moment.limits
            pairs = [ThrustView(pair, setup, whole) for pair in result.thrust]
            widget.show_views(pairs, NO_THRUST if result.whole else waiting)
