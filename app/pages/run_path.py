"""The Run page's card of paths: that of the vectors, or that of the shaft centre in its bearing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QStackedWidget

from app.plots.card import Card
from app.plots.polar_plot import PolarPlot, PolarView
from app.widgets.segmented import Segmented
from app.widgets.theming import theme_of

from .position_phases import NO_PLANE, PHASES

if TYPE_CHECKING:
    from analysis.model.setup import Plane, Setup
    from app.plots.centreline_plot import CentrelinePlot, CentrelineView
    from app.plots.plot import Plot
    from app.plots.run_view import RunView
    from app.session.session import Session

LEAST_HEIGHT = 90
VECTORS_TIP = "The path of the vectors, µm or mil p-p"
CENTRELINE_TIP = (
    "The mean position of the shaft in its bearing, µm or mil: paler where it turned slowly"
)
TABLE_ONLY = "A table of vectors holds no gap. Open the capture itself to see its centreline."
NOT_IN_A_PLANE = "No centreline: {} in no plane of the setup. Choose the probes of a plane."


class PathCard(Card):
    """One picture in sight, the other is not drawn. `moment_requested(t)`: a path was pressed.

    The centreline is the session's answer on positions, the same that the Position page draws; it
    is asked for only while it is in sight.
    """

    moment_requested = Signal(float)

    def __init__(self, session: Session) -> None:
        self._session = session
        self._centreline: CentrelinePlot | None = None
        self.polar = PolarPlot()
        self.choice = Segmented(
            "Path",
            [("vector path", "vectors", VECTORS_TIP), ("centreline", "centreline", CENTRELINE_TIP)],
        )
        self._stack = QStackedWidget()
        super().__init__(self._stack, tools=(self.choice,))
        self._join(self.polar)
        self.choice.set_value(session.run_choice.now.path)
        self.choice.chosen.connect(lambda path: session.run_choice.set(path=path))

    @property
    def shows_centreline(self) -> bool:
        """Whether the centreline is wanted here, not the vectors."""
        return self._session.run_choice.now.path == "centreline"

    @property
    def centreline(self) -> CentrelinePlot:
        """The shaft centreline; made now where it has not been."""
        if self._centreline is None:
            # Here and not above: the page stands before this is loaded.
            from app.plots.centreline_plot import CentrelinePlot

            self._centreline = CentrelinePlot()
            self._centreline.set_unit(self._session.unit.unit)
            self._centreline.set_theme(theme_of(self._session.theme))
            self._join(self._centreline)
        return self._centreline

    def plots(self) -> tuple[Plot, ...]:
        """The pictures that have been made."""
        return (self.polar,) if self._centreline is None else (self.polar, self._centreline)

    def _join(self, plot: PolarPlot | CentrelinePlot) -> None:
        plot.setMinimumHeight(LEAST_HEIGHT)
        plot.moment_requested.connect(self.moment_requested)
        plot.titled_changed.connect(self._tell)
        self._stack.addWidget(plot)

    def make_missing(self) -> bool:
        """Make the picture that is to be seen; true when that took this turn."""
        if not self.shows_centreline or self._centreline is not None:
            return False
        _ = self.centreline
        return True

    def ask(self) -> None:
        """Ask for what is to be seen."""
        wanted = self.shows_centreline and self._session.run.table is None
        self._session.position.want(wanted, "run")

    def rest(self) -> None:
        """Nobody looks: ask for nothing."""
        self._session.position.want(False, "run")

    def draw(self, view: RunView | None, shown: tuple[str, ...], moment_s: float | None) -> None:
        """The picture in sight, of these probes; the vectors have a mark at the moment."""
        table = self._session.run.table is not None
        self.choice.set_value(self._session.run_choice.now.path)
        self.choice.button("centreline").setToolTip(TABLE_ONLY if table else CENTRELINE_TIP)
        self.ask()
        if self.shows_centreline:
            centreline, text = self._centreline_view(shown)
            self.centreline.set_empty_text(text or self.centreline.EMPTY)
            self._draw_in(self.centreline, centreline)
        else:
            self._draw_in(self.polar, None if view is None else self._polar_view(view))
            self.polar.set_moment(moment_s)

    def _draw_in(self, plot: Plot, view: object | None) -> None:
        if self._stack.currentWidget() is not plot:
            self._stack.setCurrentWidget(plot)
            plot.setGeometry(
                self._stack.contentsRect()
            )  # drawn once, in the size that it will have
        if view is not None:
            plot.make_room()
        plot.show_result(view)
        plot.setUpdatesEnabled(True)
        self._tell()

    def _tell(self) -> None:
        plot = self._stack.currentWidget()
        self.set_texts(plot.title(), plot.subtitle())
        self._subtitle.setToolTip(plot.subtitle())  # narrow, it is cut off

    def _polar_view(self, view: RunView) -> PolarView:
        setup = self._session.capture.setup
        if setup is None:
            return PolarView(view)
        angles = {p.name: p.angle_deg for p in setup.probe if p.angle_deg is not None}
        return PolarView(view, angles, setup.machine.rotation)

    def _centreline_view(self, shown: tuple[str, ...]) -> tuple[CentrelineView | None, str]:
        """The plane of the probes shown; else nothing, and why."""
        from app.plots.centreline_plot import CentrelineView

        session, setup = self._session, self._session.capture.setup
        if session.run.table is not None:
            return None, TABLE_ONLY
        if setup is None:
            return None, ""
        if not setup.plane:
            return None, NO_PLANE
        plane = plane_of(setup, shown, session.choice.now.plane)
        if plane is None:
            verb = "is" if len(shown) == 1 else "are"
            return None, NOT_IN_A_PLANE.format(f"{', '.join(shown)} {verb}")
        result = session.position.result
        if result is None or not result.whole:
            return None, PHASES.get(session.position.phase, PHASES["looking"])
        return CentrelineView(result.planes[plane.name], setup), ""


def plane_of(setup: Setup, shown: tuple[str, ...], looked_at: str | None) -> Plane | None:
    """The plane that some of these probes belong to; of several the one looked at, else the first.

    With no probes shown every plane will do.
    """
    planes = [plane for plane in setup.plane if not shown or set(plane.probes) & set(shown)]
    for plane in planes:
        if plane.name == looked_at:
            return plane
    return planes[0] if planes else None
