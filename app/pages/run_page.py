"""The Run page: how did the machine pass through its speeds?"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from analysis.views.run import RunResult, references_of
from app.dialogs.keep_slow_roll import ask_to_keep
from app.plots.bode_plot import BodePlot
from app.plots.card import Card
from app.plots.cascade_plot import CascadePlot
from app.plots.cascade_view import CascadeView
from app.plots.run_view import CriticalMark, RunView
from app.widgets.run_headline import RunHeadline
from app.widgets.theming import theme_of
from app.widgets.whole_page import WholePage
from app.work.one_a_turn import OneATurn

from .even import even
from .run_lists import RunLists
from .run_path import PathCard
from .run_requests import ask_operating_range, ask_to_type
from .run_tools import CascadeTools, RunTools

if TYPE_CHECKING:
    from app.plots.plot import Plot
    from app.session.session import Session

GAP = 10
LEAST_HEIGHT = 90
_PHASES = {
    "passing": "Reading the capture…",
    "stopped": "The pass over the capture was stopped. “Go on” on the timeline reads the rest.",
    "filtering": "Filtering orders…",
    "unphased": (
        "Without phase-reference events there is no phase lag, and no critical speed can be told. "
        "Give the setup a [phase_reference] whose channel has pulses."
    ),
    "failed": "The run could not be worked out; the message above says why.",
}
NO_PROBE = "No radial probe of this setup has vectors of this order. Choose another order."
MAKING = "Making the cascade…"
NO_CASCADE = "No stretch of this capture is long enough for a cascade."
TABLE_ONLY = "A table of vectors has no waveforms. Open the capture itself to see its cascade."


class RunPage(WholePage):
    """Headline, amplitude over phase, path, cascade, and the lists of findings."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._shown_view: RunView | None = None
        self._made = False
        self._turns = OneATurn(self)
        self.headline = RunHeadline()
        self.tools = RunTools(session)
        self.bode = BodePlot()
        self.path = PathCard(session)
        self.cascade = CascadePlot()
        self.cascade_tools = CascadeTools(session)
        self.lists = RunLists(session)
        for plot in self.plots():
            plot.setMinimumHeight(LEAST_HEIGHT)
        self._lay_out()
        self._connect()
        self._set_unit(session.unit.unit)
        self._dress()

    def plots(self) -> tuple[Plot, ...]:
        """Every picture of the page."""
        return (*self.bode.plots(), *self.path.plots(), self.cascade, self.lists.difference)

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        for plot in self.plots():
            plot.fit()

    def copy_readings(self) -> None:
        """Put the list in sight on the clipboard."""
        self.lists.copy()

    def _lay_out(self) -> None:
        self._bode_card = Card(self.bode, tools=(self.tools,))
        cascade = Card(self.cascade, tools=(self.cascade_tools,))
        left, right = QVBoxLayout(), QVBoxLayout()
        for column, upper, lower, share in (
            (left, self._bode_card, self.lists, 66),
            (right, self.path, cascade, 50),
        ):
            column.setSpacing(GAP)
            column.addWidget(even(upper), share)
            column.addWidget(even(lower), 100 - share)
        columns = QHBoxLayout()
        columns.setSpacing(GAP)
        columns.addLayout(left, 60)
        columns.addLayout(right, 40)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(GAP)
        outer.addWidget(self.headline)
        outer.addLayout(columns, 1)

    def _connect(self) -> None:
        session = self._session
        for signal in (session.run.answered, session.run.found, session.run.phase_changed):
            signal.connect(self._draw)
        session.run_choice.changed.connect(self._choices_changed)
        for signal in (session.position.answered, session.position.phase_changed):
            signal.connect(self._position_changed)
        session.choice.changed.connect(lambda _names: self._draw())
        session.laid_over.changed.connect(self._draw)
        session.cascade.answered.connect(lambda: self._put(self._draw_cascade))
        session.cascade.listed.connect(self._write)
        session.moment.moved.connect(lambda _moment: self._show_moment())
        session.unit.changed.connect(self._set_unit)
        session.theme.changed.connect(self._dress)
        self.bode.amplitude.titled_changed.connect(self._title_bode)
        for source in (
            self.bode.moment_requested,
            self.path.moment_requested,
            self.cascade.moment_requested,
            self.lists.moment_wanted,
            self.headline.moment_wanted,
        ):
            source.connect(session.moment.set)
        self.tools.type_wanted.connect(lambda: ask_to_type(self, session, self.shown()))
        self.tools.keep_wanted.connect(lambda: ask_to_keep(self, session))
        self.tools.range_wanted.connect(lambda: ask_operating_range(self, session))

    # What is shown -------------------------------------------------------------------------------

    def groups(self) -> list[tuple[str, tuple[str, ...], str]]:
        """What can be shown together: each plane, each probe, all: (text, probes, tip)."""
        result, setup = self._session.run.result, self._session.capture.setup
        names = tuple(result.traces) if result is not None else ()
        planes = setup.plane if setup is not None else ()
        groups = [
            (plane.name, plane.probes, "Both probes of this plane")
            for plane in planes
            if set(plane.probes) <= set(names)
        ]
        groups += [(name, (name,), "This probe alone") for name in names]
        if len(names) > 2:
            groups.append(("all probes", names, "Every radial probe"))
        return groups

    def shown(self) -> tuple[str, ...]:
        """The probes whose vectors are shown: chosen ones, else those of the plane looked at."""
        groups = self.groups()
        wanted = self._session.run_choice.now.probes
        if wanted is not None and any(probes == wanted for _, probes, _ in groups):
            return wanted
        plane = self._session.choice.now.plane
        for text, probes, _ in groups:
            if text == plane:
                return probes
        return groups[0][1] if groups else ()

    def _planes_shown(self, shown: tuple[str, ...]) -> tuple[str, ...]:
        setup = self._session.capture.setup
        planes = setup.plane if setup is not None else ()
        return tuple(plane.name for plane in planes if set(plane.probes) & set(shown))

    def _places(self, result: RunResult) -> dict[str, int]:
        setup = self._session.capture.setup
        known = {p.name: k for k, p in enumerate(setup.probe)} if setup is not None else {}
        return {name: known.get(name, k) for k, name in enumerate(result.traces)}

    def view(self) -> RunView | None:
        """What the pictures are given; `None` while there is nothing."""
        session, result, shown = self._session, self._session.run.result, self.shown()
        if result is None or not shown:
            return None
        now, setup = session.run_choice.now, session.capture.setup
        if session.run.table is not None and not np.isfinite(session.run.table.time_s).all():
            axis = "speed"
        else:
            axis = result.request.axis
        traces = tuple(trace for name in shown for trace in result.traces[name])
        response = session.run.response if now.order == 1 else None
        operating = now.operating_rpm
        if operating is None and setup is not None:
            operating = setup.machine.operating_rpm
        speeds = [t.speed_rpm for t in traces if len(t.speed_rpm)]
        ends = (
            (float(min(s.min() for s in speeds)), float(max(s.max() for s in speeds)))
            if speeds
            else (0.0, 1000.0)
        )
        other = session.run.other_result
        laid = session.laid_over.other
        return RunView(
            traces=traces,
            places=self._places(result),
            order=result.request.order,
            axis=axis,
            criticals=tuple(
                CriticalMark(name, critical)
                for name in shown
                if response is not None and name in response.probes
                for critical in response.probes[name].criticals
            ),
            operating_rpm=operating,
            references=references_of(setup, shown, now.references, ends, operating)
            if result.request.order == 1
            else (),
            slow_rolls={name: result.responses[name].slow_roll for name in shown},
            others=tuple(
                trace
                for name in shown
                if other is not None and name in other.traces
                for trace in other.traces[name]
            ),
            other_name=laid.name if laid is not None else "",
            other_slow_rolls={n: r.slow_roll for n, r in other.responses.items()} if other else {},
            raw_shown=now.raw_shown,
            wrapped=now.wrapped,
        )

    # Drawing -------------------------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        """Ask, and show what there is."""
        super().showEvent(event)
        self._session.run.want(True)
        self._session.cascade.want(True)
        self.path.ask()
        for plot in self.plots():
            plot.setUpdatesEnabled(False)  # each is painted in the turn that draws it
        self._draw()
        self._put(self._draw_cascade)

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._session.run.want(False)
        self._session.cascade.want(False)
        self.path.rest()

    def _draw(self) -> None:
        """One part of the page a turn of the event loop: together they would take too long."""
        self._made = False  # of the new answers; whichever part comes first makes it
        if self.isVisible():
            self._put(
                self._draw_amplitude,
                self._draw_phase,
                self._draw_path,
                self._draw_tools,
                self._write_lists,
                self._write_headline,
            )

    def _choices_changed(self, names: frozenset[str]) -> None:
        if names == {"path"}:
            self._put(self._draw_path)
        else:
            self._draw()

    def _position_changed(self) -> None:
        if self.path.shows_centreline:
            self._put(self._draw_path)

    def _put(self, *parts: Callable[[], None]) -> None:
        for part in parts:
            self._turns.put(part, lambda part=part: part() if self.isVisible() else None)

    def is_settled(self) -> bool:
        """Whether everything that was answered is drawn."""
        return self._turns.is_idle()

    def _view_now(self) -> RunView | None:
        if not self._made:
            self._shown_view, self._made = self.view(), True
        return self._shown_view

    def _draw_amplitude(self) -> None:
        run = self._session.run
        view = self._view_now()
        text = _PHASES.get(run.phase)
        if text is None and view is None and run.result is not None:
            text = NO_PROBE
        for plot in (*self.bode.plots(), self.path.polar):
            plot.set_empty_text(text or plot.EMPTY)
        self._draw_in(self.bode.amplitude, view, self.bode.show_amplitude)
        self._title_bode()

    def _draw_phase(self) -> None:
        self._draw_in(self.bode.phase, self._view_now())

    def _draw_in(
        self, plot: Plot, view: object | None, draw: Callable[[object], None] | None = None
    ) -> None:
        if view is not None:
            plot.make_room()
        (draw or plot.show_result)(view)
        plot.set_moment(self._moment_s())
        plot.setUpdatesEnabled(True)

    def _draw_path(self) -> None:
        """The picture in sight; one that is missing is made in a turn before."""
        if self.path.make_missing():
            self._put(self._draw_path)
        else:
            self.path.draw(self._view_now(), self.shown(), self._moment_s())

    def _draw_tools(self) -> None:
        run = self._session.run
        orders = run.result.orders if run.result is not None else (1,)
        self.tools.refresh(self.groups(), self.shown(), orders, samples=run.table is None)
        self._put(self._refresh_cascade_tools)

    def _write(self) -> None:
        self._put(self._write_lists, self._write_headline)

    def _write_lists(self) -> None:
        result = self._session.run.result
        shown = self.shown()
        planes = self._planes_shown(shown)
        self.lists.write(shown, planes, self._places(result) if result is not None else {})
        self.lists.difference.setUpdatesEnabled(True)

    def _write_headline(self) -> None:
        shown = self.shown()
        self.headline.write(self._session, shown, self._planes_shown(shown))

    def _draw_cascade(self) -> None:
        reader, wish = self._session.cascade, self._session.run_choice.now.cascade
        found = reader.cascade
        if not reader.possible:
            text = TABLE_ONLY if self._session.run.table is not None else CascadePlot.EMPTY
        else:
            text = MAKING if found is None else NO_CASCADE
        self.cascade.set_empty_text(_PHASES.get(self._session.run.phase, text))
        view = None
        if found is not None and found[1] is not None:
            view = CascadeView(found[0], found[1], wish.scale, wish.style)
        self._draw_in(self.cascade, view)
        self._put(self._refresh_cascade_tools)

    def _refresh_cascade_tools(self) -> None:
        setup, result = self._session.capture.setup, self._session.run.result
        self.cascade_tools.setVisible(self._session.cascade.possible)
        if setup is None or result is None:
            return
        names = [(p.name, p.name, "Two-sided: backward and forward") for p in setup.plane]
        names += [(n, n, "One-sided") for n in result.traces]
        found = self._session.cascade.cascade
        chosen = self._session.run_choice.now.cascade.of or (found[0] if found else "")
        any_trace = next(iter(result.traces.values()), ())
        arrows = {"up": "↑", "down": "↓"}
        passages = tuple(arrows.get(trace.direction, "") for trace in any_trace)
        self.cascade_tools.refresh(names, chosen, passages)

    def _show_moment(self) -> None:
        if not self.isVisible():
            return
        moment_s = self._moment_s()
        self.bode.set_moment(moment_s)
        self.path.polar.set_moment(moment_s)
        self.cascade.set_moment(moment_s)

    def _moment_s(self) -> float | None:
        # A table has its own times: the moment of the capture means nothing in it.
        own = self._session.run.table is None
        return self._session.moment.moment_s if own else None

    def _title_bode(self) -> None:
        plot = self.bode.amplitude
        self._bode_card.set_texts(plot.title())
        width = self._session.run_choice.now.bandwidth_hz
        words = [plot.subtitle()]
        if width is not None and self._session.run.table is None:
            words.append(f"vectors by the order filter, {width:g} Hz wide (−3 dB)")
        self.bode.note.set_full_text(" · ".join(text for text in words if text))

    def _set_unit(self, unit: object) -> None:
        for plot in self.plots():
            self._turns.put((plot, "unit"), lambda plot=plot: plot.set_unit(unit))
        self._put(self._write_lists, self._write_headline)

    def _dress(self) -> None:
        theme = theme_of(self._session.theme)
        for plot in self.plots():
            self._turns.put((plot, "theme"), lambda plot=plot: plot.set_theme(theme))
        self._turns.put("lists", self.lists.dress)
