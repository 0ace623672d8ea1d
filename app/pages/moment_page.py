"""The Moment page: what is the shaft doing now?"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtGui import QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.plots.card import Card
from app.plots.note import Note
from app.plots.orbit_plot import OrbitPlot, OrbitView
from app.plots.spectrum_plot import SpectrumPlot
from app.plots.unseen import is_unseen
from app.plots.waveform_plot import WaveformPlot, WaveformView
from app.plots.wording import runout_text
from app.widgets.plane_strip import PlaneStrip
from app.widgets.readings_panel import ReadingsPanel
from app.widgets.speed_field import SpeedField
from app.widgets.theming import theme_of
from app.widgets.whole_page import WholePage
from app.widgets.window_button import WindowButton
from app.work.one_a_turn import OneATurn

from .moment_tools import OrbitTools, SpectrumTools, WaveformTools

if TYPE_CHECKING:
    from analysis.model.setup import Plane, Setup
    from analysis.views.moment import MomentResult
    from app.session.session import Session

GAP = 10
READING = "Reading the moment…"
UNREAD = "This moment could not be read; the message above says why."
LEAST_HEIGHT = 100
"""Lower than a picture likes to be: two waveforms and the readings fit a window 800 px high."""


class MomentPage(WholePage):
    """Two waveforms, the orbit, the spectrum and the readings of one moment.

    Draws the answers of the session's reader; asks for nothing itself but the width it has.
    """

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._turns = OneATurn(self)
        self._undrawn = False
        self.waveforms = (WaveformPlot(), WaveformPlot())
        self.orbit = OrbitPlot()
        self.spectrum = SpectrumPlot()
        self.readings = ReadingsPanel(session)
        self.plane_strip = PlaneStrip()
        self.runout_note = Note()
        self.runout_note.set_full_text("")
        self.speed_field = SpeedField(session)
        self.waveform_tools = tuple(WaveformTools(session, place) for place in (0, 1))
        self.orbit_tools = OrbitTools(session)
        self.spectrum_tools = SpectrumTools(session)
        for plot in self.plots():
            plot.setMinimumHeight(LEAST_HEIGHT)
        self._lay_out()
        session.capture.setup_changed.connect(self._make_room)
        session.reader.answered.connect(self._draw)
        session.waveform_zoom.changed.connect(self._stretch)
        for plot in self.waveforms:
            plot.zoom_requested.connect(session.waveform_zoom.by)
            plot.walk_requested.connect(session.waveform_zoom.walk)
            plot.reset_requested.connect(session.waveform_zoom.reset)
        session.reader.settled.connect(self._settled)
        session.reader.calm.passed.connect(self._draw_strip)
        session.unit.changed.connect(self._set_unit)
        session.theme.changed.connect(self._dress)
        session.choice.changed.connect(self._choice_changed)
        self._set_unit(session.unit.unit)
        self._dress()
        self.orbit.set_paths(session.choice.now.orbit_paths)
        self.orbit_tools.runout.keep_wanted.connect(self._keep_runout)
        self._make_room()
        self._draw()
        self._draw_strip()

    def plots(self) -> tuple[WaveformPlot | OrbitPlot | SpectrumPlot, ...]:
        """Every picture of the page."""
        return (*self.waveforms, self.orbit, self.spectrum)

    def fit(self) -> None:
        """Scale every picture to what it shows."""
        for plot in self.plots():
            plot.fit()

    def copy_readings(self) -> None:
        """Put the readings on the clipboard."""
        self.readings.copy()

    def _lay_out(self) -> None:
        orbit = QWidget()
        below = QVBoxLayout(orbit)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(0)
        below.addWidget(self.runout_note)
        beside = QHBoxLayout()
        beside.setSpacing(4)
        below.addLayout(beside, 1)
        beside.addWidget(self.orbit, 1)
        beside.addWidget(self.plane_strip)
        self._orbit_card = Card(orbit, tools=(self.orbit_tools,))
        self.orbit.titled_changed.connect(self._title_orbit)
        self._title_orbit()
        waveforms = QVBoxLayout()
        waveforms.setSpacing(GAP)
        for plot, tools in zip(self.waveforms, self.waveform_tools, strict=True):
            card = Card(plot, tools=(WindowButton(self._session), tools))
            waveforms.addWidget(_even(card), 1)
        upper, lower = QHBoxLayout(), QHBoxLayout()
        for row in (upper, lower):
            row.setSpacing(GAP)
        self._waveform_cards = tuple(
            waveforms.itemAt(place).widget() for place in range(len(self.waveforms))
        )
        upper.addLayout(waveforms, 54)
        upper.addWidget(_even(self._orbit_card), 46)
        lower.addWidget(_even(self.readings), 64)
        lower.addWidget(_even(Card(self.spectrum, tools=(self.spectrum_tools,))), 36)
        self._outer = outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(GAP)
        outer.addWidget(self.speed_field)
        outer.addLayout(upper, 59)
        outer.addLayout(lower, 41)

    def _make_room(self) -> None:
        """Cards that this setup can never fill give their room to the others."""
        setup = self._session.capture.setup
        if setup is None:
            return
        self._waveform_cards[1].setVisible(len(setup.probe) > 1)
        self._orbit_card.setVisible(bool(setup.plane))
        lower = 41 if len(setup.probe) > 3 else 37
        self._outer.setStretch(1, 100 - lower)
        self._outer.setStretch(2, lower)

    def _title_orbit(self) -> None:
        self._orbit_card.set_texts(self.orbit.title(), self.orbit.subtitle())

    def _set_unit(self, unit: object) -> None:
        for plot in self.plots():
            plot.set_unit(unit)
        self.plane_strip.set_unit(unit)
        self._tell_runout()

    def _dress(self) -> None:
        theme = theme_of(self._session.theme)
        for plot in self.plots():
            plot.set_theme(theme)

    def _choice_changed(self, names: frozenset[str]) -> None:
        if "orbit_paths" in names:
            self.orbit.set_paths(self._session.choice.now.orbit_paths)

    def _settled(self) -> None:
        if self._session.reader.result is None:
            self._draw()

    def showEvent(self, event: QShowEvent) -> None:
        """Follow every moment, and draw the one that came unseen: a picture a turn."""
        super().showEvent(event)
        self._session.reader.follow(True)
        if self._undrawn:
            self._undrawn = False
            for draw in (self._draw_waveforms, self._draw_orbit, self._draw_spectrum):
                self._turns.put(draw, lambda draw=draw: self._draw_one(draw))

    def hideEvent(self, event: QHideEvent) -> None:
        """Nobody looks."""
        super().hideEvent(event)
        self._session.reader.follow(False)

    def _draw(self) -> None:
        if is_unseen(self):
            self._undrawn = True
            return
        result, setup = self._session.reader.result, self._session.capture.setup
        if result is None or setup is None:
            reading = self._session.runner.is_running("moment")
            for plot in self.plots():
                plot.set_empty_text(READING if reading else UNREAD)
                plot.show_result(None)
            return
        for plot in self.plots():
            plot.set_empty_text(plot.EMPTY)
        self._draw_waveforms(result, setup)
        self._tell_runout()
        self._draw_orbit(result, setup)
        self._draw_spectrum(result, setup)

    def _draw_one(self, draw: Callable[[MomentResult, Setup], None]) -> None:
        """Draw some of what is known now; what is not is drawn whole."""
        result, setup = self._session.reader.result, self._session.capture.setup
        if result is None or setup is None:
            self._draw()
        else:
            draw(result, setup)

    def _draw_spectrum(self, result: MomentResult, _setup: Setup) -> None:
        self.spectrum.show_result(result.spectrum)

    def _draw_strip(self) -> None:
        result, setup = self._session.reader.result, self._session.capture.setup
        plane = _plane_of(result, setup) if result and setup else None
        reading = result.readings.planes.get(plane.name) if result and plane else None
        self.plane_strip.set_reading(reading, plane)

    def _draw_waveforms(self, result: MomentResult, setup: Setup) -> None:
        places = {probe.name: index for index, probe in enumerate(setup.probe)}
        shown = list(result.waveforms.values())
        for place, plot in enumerate(self.waveforms):
            if place >= len(shown) or shown[place].probe not in places:
                plot.show_result(None)
                continue
            name = shown[place].probe
            plot.show_result(
                WaveformView(
                    waveform=shown[place],
                    probe=setup.probe_named(name),
                    probe_index=places[name],
                    reading=result.readings.probes[name],
                    setup=setup,
                    window=result.waveform_span,
                    moment_s=result.waveform_span.start_s + result.moment_offset_s,
                )
            )

    def _stretch(self) -> None:
        """Another window is wanted: show what there is of it until the answer comes."""
        for plot in self.waveforms:
            plot.set_window(self._session.waveform_zoom.window(), self._session.moment.moment_s)

    def _keep_runout(self) -> None:
        # Loaded when it is asked for: it brings the whole of a run's numbers along.
        from app.dialogs.keep_slow_roll import ask_to_keep_runout

        ask_to_keep_runout(self, self._session)

    def _tell_runout(self) -> None:
        result, setup = self._session.reader.result, self._session.capture.setup
        plane = _plane_of(result, setup) if result is not None and setup is not None else None
        shown = plane.probes if plane is not None else ()
        waves = {n: w for n, w in result.runout.items() if n in shown} if result else {}
        self.runout_note.set_full_text(runout_text(waves, self._session.unit.unit))

    def _draw_orbit(self, result: MomentResult, setup: Setup) -> None:
        plane = _plane_of(result, setup)
        reading = result.readings.planes.get(plane.name) if plane else None
        if plane is None or reading is None:
            self.orbit.set_empty_text(
                "No orbit: the setup has no plane. A plane is two radial probes that see the same "
                "shaft section; add one to the setup."
                if plane is None
                else f"No orbit of {plane.name} at this moment."
            )
            self.orbit.show_result(None)
            return
        self.orbit.show_result(
            OrbitView(
                raw=result.orbit,
                filtered=result.filtered_orbit,
                plane=plane,
                reading=reading,
                setup=setup,
                probe_readings=result.readings.probes,
            )
        )

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A waveform gets no more points than it has pixels for."""
        super().resizeEvent(event)
        ratio = self.devicePixelRatioF()
        self._session.reader.set_columns(round(self.waveforms[0].width() * ratio))


def _plane_of(result: MomentResult, setup: Setup) -> Plane | None:
    wanted = result.request.plane
    return next((p for p in setup.plane if wanted is None or p.name == wanted), None)


def _even(widget: QWidget) -> QWidget:
    """Let the shares of the layout alone decide its size, not what it holds at the moment."""
    widget.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
    return widget
