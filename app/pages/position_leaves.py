"""The Position page's lower right card: one leaf in sight, each made when it is first turned to."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from analysis.model.setup import Setup
from analysis.views.position import PositionResult
from app.plots.plot import Plot
from app.plots.time_plot import TimePlot
from app.session.session import Session
from app.widgets import words
from app.widgets.tab_card import TabCard
from app.widgets.theming import theme_of

LEAST_HEIGHT = 100
NO_PLANE = (
    "No centreline: the setup has no plane. A plane is two radial probes that see the same shaft "
    "section; add one to the setup."
)
NO_THRUST = 'No thrust position: the setup has no two probes of kind = "axial".'
LEAVES = (
    ("point", "Working point", "On the calibration curve, V against µm or mil"),
    ("centreline", "Centreline", "In the bearing's clearance, µm or mil"),
    ("train", "Along the machine", "The planes from the side, µm or mil"),
    ("thrust", "Thrust", "Both axial probes, µm or mil"),
    ("loops", "Two readings", "Position and p-p of one probe as two current loops, mA"),
)


class PositionLeaves(TabCard):
    """Draws what it is told of; `plane_requested(name)` when a plane of the train is pressed."""

    plane_requested = Signal(str)

    def __init__(self, session: Session) -> None:
        self._session = session
        self._places = {key: QWidget() for key, _, _ in LEAVES}
        for place in self._places.values():
            column = QVBoxLayout(place)
            column.setContentsMargins(0, 0, 0, 0)
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

    def prepare(self) -> None:
        """Make the leaf in sight, where it has not been."""
        self._make(self.leaf)

    def make_next(self) -> bool:
        """Make one leaf that has not been; false when there is none left."""
        missing = [key for key, _, _ in LEAVES if key not in self._made]
        if missing:
            self._make(missing[0])
        return len(missing) > 1

    def _make(self, key: str) -> QWidget:
        if key not in self._made:
            makers: dict[str, Callable[[], tuple[QWidget, tuple[Plot, ...]]]] = {
                "point": self._make_point,
                "centreline": self._make_centreline,
                "train": self._make_train,
                "thrust": self._make_thrust,
                "loops": self._make_loops,
            }
            widget, plots = makers[key]()
            self._made[key], self._plots[key] = widget, plots
            for plot in plots:
                self._join(plot)
            self._places[key].layout().addWidget(widget)
        return self._made[key]

    def _join(self, plot: Plot) -> None:
        session = self._session
        plot.setMinimumHeight(LEAST_HEIGHT)
        plot.set_unit(session.unit.unit)
        plot.set_theme(theme_of(session.theme))
        if isinstance(plot, TimePlot):
            plot.moment_requested.connect(session.moment.set)
            plot.span_requested.connect(session.choose_span)
            plot.zoom_requested.connect(session.zoom.by)
            plot.pan_requested.connect(session.zoom.pan)
            plot.set_time_range(session.zoom.seen if session.zoom.zoomed else None)
            plot.set_span(session.span.span)
            moment_s = session.moment.moment_s
            plot.set_moment(moment_s, words.seconds(moment_s))

    def _make_point(self) -> tuple[QWidget, tuple[Plot, ...]]:
        from .position_parts import PointLeaf

        leaf = PointLeaf()
        return leaf, (leaf.plot,)

    def _make_centreline(self) -> tuple[QWidget, tuple[Plot, ...]]:
        from .position_parts import CentrelineLeaf

        leaf = CentrelineLeaf()
        leaf.moment_requested.connect(self._session.moment.set)
        return leaf, leaf.plots

    def _make_train(self) -> tuple[QWidget, tuple[Plot, ...]]:
        from app.plots.train_plot import TrainPlot

        from .position_parts import Captioned

        plot = TrainPlot()
        plot.plane_requested.connect(self.plane_requested)
        return Captioned(plot), (plot,)

    def _make_thrust(self) -> tuple[QWidget, tuple[Plot, ...]]:
        from .position_parts import ThrustLeaf

        leaf = ThrustLeaf()
        return leaf, (leaf.plot,)

    def _make_loops(self) -> tuple[QWidget, tuple[Plot, ...]]:
        from app.plots.loop_plot import LoopPlot

        from .position_parts import Captioned

        plot = LoopPlot()
        return Captioned(plot), (plot,)

    # Drawing -------------------------------------------------------------------------------------

    def draw_nothing(self, empty: str) -> None:
        """Say why there is nothing."""
        for plot in self.plots():
            plot.set_empty_text(empty or plot.EMPTY)
            plot.show_result(None)
        self._make(self.leaf)

    def draw(
        self, result: PositionResult, setup: Setup, chosen: str | None, waiting: str = ""
    ) -> None:
        """Draw the leaf in sight, and no other; `waiting`: why the capture is not known yet."""
        from app.plots.centreline_plot import CentrelineView
        from app.plots.loop_plot import LoopView
        from app.plots.thrust_plot import ThrustView
        from app.plots.train_plot import TrainView
        from app.plots.working_point_plot import WorkingPointView

        leaf, widget = self.leaf, self._make(self.leaf)
        position = result.probes.get(chosen) if chosen is not None else None
        for plot in self._plots[leaf]:
            plot.set_empty_text(plot.EMPTY)
        if leaf == "point":
            widget.plot.show_result(WorkingPointView(position, setup) if position else None)
        elif leaf == "loops":
            widget.plot.show_result(LoopView(position, setup) if position else None)
        elif leaf == "centreline":
            views = [CentrelineView(plane, setup) for plane in result.planes.values()]
            widget.show_views(views, chosen, NO_PLANE)
        elif leaf == "train":
            known = tuple(result.planes.values())
            view = TrainView(result.train, known, result.thrust) if result.train else None
            widget.plot.show_result(view)
        else:
            whole = self._session.moment.limits
            pairs = [ThrustView(pair, setup, whole) for pair in result.thrust]
            widget.show_views(pairs, NO_THRUST if result.whole else waiting)
