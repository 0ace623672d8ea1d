"""The small tools in the titles of the Moment page's cards."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

from analysis.signal.windows import WINDOW_NAMES
from app.widgets.choice_box import ChoiceBox
from app.widgets.menu_button import MenuButton

if TYPE_CHECKING:
    from app.session.session import Session

ORBIT_CHOICES = {
    "raw": ("raw", (1,)),
    "1X": ("filtered", (1,)),
    "1X+2X": ("filtered", (1, 2)),
    "raw + 1X": ("both", (1,)),
}


class _Tools(QWidget):
    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(0)

    def _add(self, *widgets: QWidget) -> None:
        for widget in widgets:
            self._row.addWidget(widget)


class WaveformTools(_Tools):
    """Which probe a waveform card shows: by default one of the plane's."""

    def __init__(self, session: Session, place: int) -> None:
        super().__init__(session)
        self._place = place
        self.probes = ChoiceBox("Probe", [], "Probe whose gap is shown in this card, µm or mil")
        self.probes.chosen.connect(self._choose)
        self._add(self.probes)
        session.capture.setup_changed.connect(self._refresh)
        session.choice.changed.connect(lambda _names: self._refresh())
        self._refresh()

    def _shown(self) -> tuple[str, ...]:
        """The probes of the two cards, as chosen or as the plane has them."""
        setup, choices = self._session.capture.setup, self._session.choice.now
        if setup is None:
            return ()
        if choices.probes:
            return choices.probes
        for plane in setup.plane:
            if choices.plane is None or plane.name == choices.plane:
                return plane.probes
        return tuple(probe.name for probe in setup.probe[:2])

    def _refresh(self) -> None:
        setup = self._session.capture.setup
        names = [probe.name for probe in setup.probe] if setup else []
        if self.probes.values() != names:
            self.probes.set_options([(name, name, "") for name in names])
        shown = self._shown()
        if self._place < len(shown):
            self.probes.set_value(shown[self._place])
        self.setVisible(len(names) > 2)

    def _choose(self, name: str) -> None:
        shown = list(self._shown())
        other = 1 - self._place
        if other < len(shown) and shown[other] == name:
            shown.reverse()
        elif self._place < len(shown):
            shown[self._place] = name
        self._session.choice.set(probes=tuple(shown))


class OrbitTools(_Tools):
    """Which plane, and which path."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.planes = ChoiceBox("Plane", [], "Plane whose orbit, waveforms and spectrum are shown")
        self.paths = ChoiceBox(
            "Orbit",
            [
                ("raw", "raw", "Unfiltered path"),
                ("1X", "1X", "Ellipse of the first order"),
                ("1X+2X", "1X+2X", "Path of the first and second order"),
                ("raw + 1X", "raw + 1X", "Unfiltered path and 1X ellipse"),
            ],
            "Unfiltered or order-filtered orbit, µm or mil",
        )
        self.runout = RunoutButton(session)
        self._add(self.planes, self.paths, self.runout)
        self.planes.chosen.connect(lambda name: session.choice.set(plane=name, probes=None))
        self.paths.chosen.connect(self._choose_path)
        session.capture.setup_changed.connect(self._refresh)
        session.choice.changed.connect(lambda _names: self._refresh())
        self._refresh()

    def _refresh(self) -> None:
        setup, choices = self._session.capture.setup, self._session.choice.now
        names = [plane.name for plane in setup.plane] if setup else []
        if self.planes.values() != names:
            self.planes.set_options([(name, name, f"Show {name}") for name in names])
        if names:
            self.planes.set_value(choices.plane or names[0])
        self.planes.setVisible(len(names) > 1)
        for key, (paths, orders) in ORBIT_CHOICES.items():
            if (choices.orbit_paths, choices.orbit_orders) == (paths, orders):
                self.paths.set_value(key)

    def _choose_path(self, key: str) -> None:
        paths, orders = ORBIT_CHOICES[key]
        self._session.choice.set(orbit_paths=paths, orbit_orders=orders)


class RunoutButton(MenuButton):
    """Which runout is taken off waveforms and orbit. `keep_wanted`: it is to go into the setup."""

    keep_wanted = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__(
            "Runout", "What the turning shaft itself shows at slow roll, µm or mil, by shaft angle"
        )
        self._session = session
        self._off = {
            source: self.add(text, lambda source=source: session.runout.choose(source), tip)
            for source, text, tip in (
                ("off", "Take nothing off", "Waveforms and orbit as measured"),
                (
                    "measured",
                    "Slow roll of this capture",
                    "Mean waveform by shaft angle at the steady lowest speeds; readings, spectrum "
                    "and alarms stay as measured",
                ),
                ("kept", "As kept in the setup", "Sum of the slow-roll vectors of the setup"),
            )
        }
        self.menu_shown.addSeparator()
        self._keep = self.add(
            "Keep in the setup…",
            self.keep_wanted.emit,
            "Write the orders of what is taken off to a setup file",
            ticks=False,
        )
        self.menu_shown.aboutToShow.connect(self._refresh)
        session.runout.changed.connect(self._refresh)
        self._refresh()

    def _refresh(self) -> None:
        reader = self._session.runout
        for source, action in self._off.items():
            action.setChecked(source == reader.source)
        self._off["measured"].setEnabled(reader.can_be_measured())
        self._off["kept"].setEnabled(reader.is_kept())
        self._keep.setEnabled(reader.source == "measured")


class SpectrumTools(_Tools):
    """Sides, axis, scaling, window, length."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.sides = ChoiceBox("Spectrum", [], "Two-sided of a plane, or one-sided of a probe")
        self.axis = ChoiceBox(
            "Frequency axis",
            [
                ("orders", "orders", "Frequency in orders of the speed"),
                ("Hz", "hz", "Frequency in Hz"),
            ],
            "Frequency in orders of the speed or in Hz",
        )
        self.scaling = ChoiceBox(
            "Scaling",
            [
                ("p-p", "p-p", "A sine reads its peak-to-peak value"),
                ("peak", "peak", "A sine reads its zero-to-peak value"),
                ("rms", "rms", "A sine reads its rms value"),
            ],
            "Scaling of the amplitudes, and the window",
        )
        self.window = ChoiceBox(
            "Window", [(name, name, f"{name} window") for name in WINDOW_NAMES], "Window"
        )
        # The card is narrow: the window, rarely changed, is a part of the scaling's menu.
        windows = self.window.menu()
        windows.setTitle("Window")
        self.scaling.menu().addSeparator()
        self.scaling.menu().addMenu(windows)
        self._add(self.sides, self.axis, self.scaling)
        self.sides.chosen.connect(self._choose_sides)
        self.axis.chosen.connect(lambda value: session.choice.set_spectrum(axis=value))
        self.scaling.chosen.connect(lambda value: session.choice.set_spectrum(scaling=value))
        self.window.chosen.connect(lambda value: session.choice.set_spectrum(window=value))
        session.capture.setup_changed.connect(self._refresh)
        session.choice.changed.connect(lambda _names: self._refresh())
        self._refresh()

    def _refresh(self) -> None:
        setup, spectrum = self._session.capture.setup, self._session.choice.now.spectrum
        names = [probe.name for probe in setup.probe] if setup else []
        values = [None, *names] if setup and setup.plane else names
        if self.sides.values() != values:
            self.sides.set_options(
                [
                    ("plane, two-sided", None, "Forward and backward, of the plane's two probes")
                    if value is None
                    else (f"{value}, one-sided", value, f"One-sided, of {value}")
                    for value in values
                ]
            )
        if values:
            one_sided = spectrum.probe if spectrum.probe in names else names[0]
            self.sides.set_value(None if spectrum.two_sided and None in values else one_sided)
        self.axis.set_value(spectrum.axis)
        self.scaling.set_value(spectrum.scaling)
        self.window.set_value(spectrum.window)

    def _choose_sides(self, probe: str | None) -> None:
        self._session.choice.set_spectrum(two_sided=probe is None, probe=probe)
