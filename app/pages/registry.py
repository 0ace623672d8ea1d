"""The pages of the window, in the order of the switcher. A page that exists stands here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Final, Protocol

from PySide6.QtWidgets import QWidget

from .moment_page import MomentPage

if TYPE_CHECKING:
    from app.session.session import Session


class Page(Protocol):
    """What the window asks of a page."""

    def fit(self) -> None:
        """Scale every picture to what it shows."""

    def copy_readings(self) -> None:
        """Put the page's readings on the clipboard."""


@dataclass(frozen=True)
class PageEntry:
    """A page: its key, its name in the switcher, the question it answers, its maker.

    `modules` are loaded, in this order, before it is made: one a turn of the event loop where there
    is time. `plots` of its pictures are made with it, on canvases that are made ahead. `alone`: it
    is of use without a capture, too. `own`: it shows nothing of the capture, so neither probe cards
    nor timeline belong around it.
    """

    key: str
    title: str
    question: str
    make: Callable[[Session], QWidget]
    modules: tuple[str, ...] = ()
    plots: int = 0
    alone: bool = False
    own: bool = False


def _alarms(session: Session) -> QWidget:
    # Here and not above: the window stands before the other pages are loaded.
    from .alarms_page import AlarmsPage

    return AlarmsPage(session)


def _position(session: Session) -> QWidget:
    from .position_page import PositionPage

    return PositionPage(session)


def _run(session: Session) -> QWidget:
    from .run_page import RunPage

    return RunPage(session)


def _check(session: Session) -> QWidget:
    from .probe_check_page import ProbeCheckPage

    return ProbeCheckPage(session)


def _lab(session: Session) -> QWidget:
    from .lab_page import LabPage

    return LabPage(session)


PAGES: Final[tuple[PageEntry, ...]] = (
    PageEntry("moment", "Moment", "What is the shaft doing now?", MomentPage),
    PageEntry(
        "position",
        "Position",
        "Where does the shaft sit, and is that inside the probe's straight line?",
        _position,
        (
            "analysis.views.position",
            "app.plots.ruler_plot",
            "app.plots.gap_plot",
            "app.plots.centreline_plot",
            "app.plots.train_plot",
            "app.plots.thrust_plot",
            "app.plots.loop_plot",
            "app.pages.position_page",
        ),
    ),
    PageEntry(
        "run",
        "Run",
        "How did the machine pass through its speeds?",
        _run,
        (
            "analysis.views.run",
            "app.plots.bode_plot",
            "app.plots.polar_plot",
            "app.plots.cascade_plot",
            "app.widgets.run_words",
            "app.pages.run_page",
        ),
        plots=5,
        alone=True,
    ),
    PageEntry(
        "alarms",
        "Alarms",
        "What would the alarms have done, and with other settings?",
        _alarms,
        (
            "analysis.protection.proof_test",
            "analysis.views.alarms",
            "app.plots.level_plot",
            "app.plots.states_plot",
            "app.plots.boundary_plot",
            "app.widgets.proof_test_panel",
            "app.pages.alarms_page",
        ),
        plots=3,
    ),
    PageEntry(
        "check",
        "Probe check",
        "Is the measuring chain right?",
        _check,
        (
            "analysis.views.probe_check",
            "analysis.views.curve_effect",
            "app.plots.calibration_plots",
            "app.plots.run_plot",
            "app.widgets.table_panel",
            "app.pages.probe_check_page",
        ),
        alone=True,
    ),
    PageEntry(
        "lab",
        "Lab",
        "What makes an orbit look like that?",
        _lab,
        (
            "analysis.simulate.recipe",
            "analysis.simulate.lab",
            "app.plots.lag_plot",
            "app.plots.shaft_plot",
            "app.pages.lab_page",
            "app.widgets.lab_gallery",
            "app.widgets.lab_tasks",
            "app.pages.lab_rotor",
        ),
        alone=True,
        own=True,
    ),
)


def load(module: str) -> None:
    """Load a module that a page is made with."""
    import_module(module)
