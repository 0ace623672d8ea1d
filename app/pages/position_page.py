"""The Position page: where does the shaft sit, and is that inside the probe's straight line?"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtGui import QGuiApplication, QHideEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.plots.card import Card
from app.plots.gap_plot import GapPlot, GapView
from app.plots.position_words import range_state
from app.plots.ruler_plot import RulerPlot
from app.plots.ruler_rows import RulerView
from app.plots.slot import PlotSlot
from app.plots.time_plot import TimePlot
from app.session.calm import FRAME_MS, Calm
from app.widgets import words
from app.widgets.findings import FindingsList, Headline
from app.widgets.position_sheet import position_sheet
from app.widgets.speed_field import SpeedField
from app.widgets.theming import theme_of
from app.widgets.whole_page import WholePage
from app.work.step import Step

from .even import even
from .position_leaves import PositionLeaves, join_session
from .position_phases import PHASES

if TYPE_CHECKING:
    from analysis.model.position_results import Finding
    from analysis.model.setup import Setup
    from analysis.views.position import PositionResult
    from app.plots.plot import Plot
    from app.session.session import Session

GAP = 10
LEAST_HEIGHT = 100
AHEAD_MS = 120
"""What is seen comes first; then the leaves that are not, with time for the reader between."""

NO_PROBE = "This setup has no probe. Say what the channels are: Menu, “Describe the channels…”."
_TIMES = ("worst_s", "at_s", "difference_at_s", "first_s")


class PositionPage(WholePage):
    """Headline, rulers of all probes, gap against time, findings, and leaves on the rest.

    Draws the answers of the session's reader while it is in sight; the probe looked at is the
    session's. Where the reader has chosen none, the one that the worst finding is about.
    """

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._drawn_for: object = None
        self._steps: list[Callable[[], None]] = []
        self._stepping = Step(self, 0, self._step)
        self._telling = Step(self, 0, self._tell)
        self._ahead = Step(self, AHEAD_MS, self._make_ahead)
        self._frames = Calm(FRAME_MS)
        self._frames.passed.connect(self._show_moment)
        self.speed_field = SpeedField(session)
        self.headline = Headline()
        self._ruler = PlotSlot(RulerPlot, self._join_ruler)
        self.findings = FindingsList("Findings on positions, worst first")
        self._gap = PlotSlot(GapPlot, self._join_gap)
        self.leaves = PositionLeaves(session)
        self._lay_out()
        self._connect()
        self._ahead.start()

    @property
    def ruler(self) -> RulerPlot:
        """The linear ranges of all probes."""
        return self._ruler.plot

    @property
    def gap(self) -> GapPlot:
        """The gap of the chosen probe against time."""
        return self._gap.plot

    def plots(self) -> tuple[Plot, ...]:
        """Every picture of the page that has been made."""
        return (*self._ruler.made, *self._gap.made, *self.leaves.plots())

    def _time_plots(self) -> list[TimePlot]:
        return [plot for plot in self.plots() if isinstance(plot, TimePlot)]

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        for plot in self.plots():
            plot.fit()

    def copy_readings(self) -> None:
        """Put the figures of all probes and the findings on the clipboard."""
        result = self._session.position.result
        if result is not None:
            figures = position_sheet(result.probes, result.request.unit).as_text()
            QGuiApplication.clipboard().setText("\n".join((figures, "", *self.findings.texts())))

    def _lay_out(self) -> None:
        upper, lower = QHBoxLayout(), QHBoxLayout()
        findings = Card(self.findings, "Findings", "worst first · press one to go there")
        self._cards = (self._ruler, self._gap, self.leaves, findings)
        for row, left, right in (
            (upper, self._ruler, findings),
            (lower, self._gap, self.leaves),
        ):
            row.setSpacing(GAP)
            row.addWidget(even(left), 60)
            row.addWidget(even(right), 40)
        lower.setStretch(0, 52)
        lower.setStretch(1, 48)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(GAP)
        outer.addWidget(self.speed_field)
        outer.addWidget(self.headline)
        outer.addLayout(upper, 54)
        outer.addLayout(lower, 46)

    def _connect(self) -> None:
        session = self._session
        reader = session.position
        reader.answered.connect(self._draw)
        reader.calm.passed.connect(self._telling.start)
        reader.phase_changed.connect(self._phase_changed)
        session.choice.changed.connect(lambda _names: self._draw())
        session.moment.moved.connect(lambda _moment: self._frames.call())
        session.zoom.changed.connect(self._show_part)
        session.span.changed.connect(self._show_span)
        session.unit.changed.connect(self._set_unit)
        session.theme.changed.connect(self._dress)
        self.leaves.plane_requested.connect(self._choose_station)
        self.headline.chosen.connect(self.go_to)
        self.findings.chosen.connect(self.go_to)
        self.leaves.turned.connect(lambda _key: self._draw())

    def _join_ruler(self, plot: RulerPlot) -> None:
        plot.setMinimumHeight(LEAST_HEIGHT)
        plot.set_unit(self._session.unit.unit)
        plot.set_theme(theme_of(self._session.theme))
        plot.probe_requested.connect(self._session.choose_probe)

    def _join_gap(self, plot: GapPlot) -> None:
        plot.setMinimumHeight(LEAST_HEIGHT)
        join_session(plot, self._session)

    # Wishes --------------------------------------------------------------------------------------

    def go_to(self, finding: Finding) -> None:
        """To the probe and the time that a finding is about, and to the leaf that shows it."""
        self._choose_subject(finding.subject)
        for name in _TIMES:
            if name in finding.numbers:
                self._session.moment.set(float(finding.numbers[name]))
                break
        leaf = {
            "slope": "point", "clearance": "centreline", "rest": "centreline",
            "thrust": "thrust", "loop": "loops",
        }.get(finding.topic)  # fmt: skip
        if leaf is not None:
            self.leaves.show_leaf(leaf)
            self._draw()

    def _choose_subject(self, subject: str) -> None:
        setup = self._session.capture.setup
        if setup is None:
            return
        if any(probe.name == subject for probe in setup.probe):
            self._session.choose_probe(subject)
        else:
            self._choose_station(subject)

    def _choose_station(self, name: str) -> None:
        """The first probe of a plane or of an axial pair, unless one of its probes is chosen."""
        setup, result = self._session.capture.setup, self._session.position.result
        if setup is None or result is None:
            return
        pairs = {plane.name: plane.probes for plane in setup.plane}
        pairs |= {" / ".join(pair.probes): pair.probes for pair in result.thrust}
        probes = pairs.get(name, ())
        if probes and self._session.timeline_probe() not in probes:
            self._session.choose_probe(probes[0])

    # Drawing -------------------------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        """Ask, and show what there is."""
        super().showEvent(event)
        # Painted one a turn, as they are drawn.
        self._drawn_for = None
        for card in self._cards:
            card.setUpdatesEnabled(False)
        self._session.position.want(True, "position")
        self._show_part()
        self._show_span()
        self._draw()
        self._telling.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._session.position.want(False, "position")

    def _phase_changed(self) -> None:
        if self._session.position.result is None:
            self._draw()
        self._telling.start()

    def _draw(self) -> None:
        """At once where little changes; picture by picture where all of it does."""
        if not self.isVisible():
            return
        result, setup = self._session.position.result, self._session.capture.setup
        if result is None or setup is None:
            self._steps, self._drawn_for = [*self._making(), self._draw_nothing], None
            self._steps += map(self._releasing, self._cards)
            self._stepping.start()
            return
        self._choose_worst(result)
        drawn_for = (id(setup), self._session.timeline_probe(), self.leaves.leaf, result.whole)
        if drawn_for != self._drawn_for:
            self._drawn_for = drawn_for
            ruler, gap, leaves, findings = map(self._releasing, self._cards)
            parts = [partial(self._draw_leaf, place) for place in range(self.leaves.parts())]
            self._steps = [*self._making(), self._draw_ruler, ruler, self._draw_gap, gap]
            self._steps += [*parts, leaves, findings]
            self._stepping.start()
        elif not self._steps:
            self._draw_ruler(follow=True)
            self._draw_gap()
            if self.leaves.leaf != "figures":
                self._draw_leaf()
            self._show_moment()
            if self._ahead.is_waiting():
                self._ahead.start()  # the hand moves: what nobody has asked for can wait

    def _making(self) -> list[Callable[[], None]]:
        """What is to be made before everything can be drawn, a picture a turn."""
        slots = [slot.prepare for slot in (self._ruler, self._gap) if not slot.made]
        return [*slots, *[self.leaves.make_part] * self.leaves.missing_parts()]

    def _releasing(self, card: QWidget) -> Callable[[], None]:
        return lambda: card.setUpdatesEnabled(True)

    def _step(self) -> None:
        """The next picture; what has come meanwhile is in it."""
        if not self._steps or not self.isVisible():
            self._steps, self._drawn_for = [], None
            return
        self._steps.pop(0)()
        if self._steps:
            self._stepping.start()
        else:
            self._show_moment()
            self._telling.start()
            self._ahead.start()

    def _make_ahead(self) -> None:
        """What nobody has asked for yet, a picture a turn: looking at it then takes no time."""
        if self._steps:
            return
        for slot in (self._ruler, self._gap):
            if not slot.made:
                slot.prepare()
                self._ahead.start()
                return
        if self.leaves.make_next():
            self._ahead.start()

    def is_drawn(self) -> bool:
        """Whether every picture and every word is of the newest answer."""
        waits = self._steps or self._telling.is_waiting() or not self._frames.is_settled()
        return not waits and self.findings.is_whole()

    def _draw_nothing(self) -> None:
        setup = self._session.capture.setup
        for plot in (self.ruler, self.gap):
            plot.set_empty_text(self._empty_text(plot, setup))
            plot.show_result(None)
        self.leaves.draw_nothing(self._empty_text(self.ruler, setup))

    def _empty_text(self, plot: Plot, setup: Setup | None) -> str:
        if setup is not None and not setup.probe:
            return NO_PROBE
        return PHASES.get(self._session.position.phase, plot.EMPTY)

    def _choose_worst(self, result: PositionResult) -> None:
        """Begin with the probe that the worst finding is about."""
        if self._session.choice.now.timeline_probe is not None or not result.whole:
            return
        worst = next((each for each in result.findings if each.severity == "severe"), None)
        if worst is not None:
            self._choose_subject(worst.subject)

    def _now(self) -> tuple[PositionResult, Setup] | None:
        result, setup = self._session.position.result, self._session.capture.setup
        return None if result is None or setup is None else (result, setup)

    def _draw_ruler(self, *, follow: bool = False) -> None:
        """The linear ranges; `follow`: bars alone, their figures come with the sentences."""
        now = self._now()
        if now is None:
            return
        result, setup = now
        probes = tuple(result.probes.values())
        states = {
            each.name: range_state(each.capture or each.moment, result.findings, each.name)
            for each in probes
        }
        self.ruler.set_empty_text(self.ruler.EMPTY)
        view = RulerView(probes, setup, self._session.timeline_probe(), states)
        if follow:
            self.ruler.follow(view)
        else:
            self.ruler.show_result(view)

    def _draw_gap(self) -> None:
        now, table = self._now(), self._session.position.table
        if now is None:
            return
        result, setup = now
        chosen = self._session.timeline_probe()
        position = result.probes.get(chosen) if chosen is not None else None
        if position is None or table is None:
            text = self._empty_text(self.gap, setup)
            if position is None:
                text = f"No gap of {chosen}: the capture does not have its channel."
            self.gap.set_empty_text(text)
            self.gap.show_result(None)
            return
        self.gap.show_result(GapView(position, table, setup, self._session.moment.limits))

    def _draw_leaf(self, place: int | None = None) -> None:
        """The leaf in sight, or one picture of it."""
        now = self._now()
        if now is not None:
            waiting = self._empty_text(self.gap, now[1])
            self.leaves.draw(*now, self._session.timeline_probe(), waiting, place)

    def _tell(self) -> None:
        """Sentences: at a pace that can be read, and not in a turn with pictures."""
        if not self.isVisible() or self._steps:
            return  # the last of the steps has it told
        result, setup = self._session.position.result, self._session.capture.setup
        if result is None:
            text = self._empty_text(self.ruler, setup)
            self.headline.show_finding(None, text)
            self.findings.show_findings(())
            self.findings.set_empty_text(text)
            return
        self.ruler.show_figures()
        if self.leaves.leaf == "figures":
            self._draw_leaf()
        nothing = "Nothing is known of any probe here."
        self.headline.show_finding(result.headline, nothing)
        self.findings.set_empty_text(nothing)
        self.findings.show_findings(result.findings)

    def _show_moment(self) -> None:
        if not self.isVisible():
            return
        moment_s = self._session.moment.moment_s
        for plot in self._time_plots():
            plot.set_moment(moment_s, words.seconds(moment_s))

    def _show_part(self) -> None:
        zoom = self._session.zoom
        for plot in self._time_plots():
            plot.set_time_range(zoom.seen if zoom.zoomed else None)

    def _show_span(self) -> None:
        for plot in self._time_plots():
            plot.set_span(self._session.span.span)

    def _set_unit(self, unit: object) -> None:
        for plot in self.plots():
            plot.set_unit(unit)

    def _dress(self) -> None:
        theme = theme_of(self._session.theme)
        for plot in (*self._ruler.made, *self._gap.made):
            plot.set_theme(theme)
        self.leaves.dress(theme)
