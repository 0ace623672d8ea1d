"""How long a stretch the waveforms show, and where in it the moment stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from analysis.views.time_window import shortest_window_s, window_around

if TYPE_CHECKING:
    from analysis.model.span import TimeSpan
    from analysis.views.moment import MomentResult

    from .answers import MomentReader
    from .capture_state import CaptureState
    from .choice_state import ChoiceState
    from .moment_state import MomentState


class WaveformZoom(QObject):
    """The window that the waveforms are to show; `None` while it is the automatic one.

    The length is a choice of the reader (`Choices.waveform_s`), so the next answer is for it.
    `changed` comes at once, before that answer: pictures stretch what they have meanwhile.
    """

    changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        moment: MomentState,
        choice: ChoiceState,
        reader: MomentReader,
    ) -> None:
        super().__init__()
        self._capture = capture
        self._moment = moment
        self._choice = choice
        self._reader = reader
        choice.changed.connect(self._choice_changed)
        moment.moved.connect(self._moved)

    @property
    def chosen(self) -> bool:
        """Whether the reader chose a length."""
        return self._choice.now.waveform_s is not None

    def window(self) -> TimeSpan | None:
        """The window chosen, around the moment as it is now; `None`: the automatic one."""
        choices = self._choice.now
        if choices.waveform_s is None or self._capture.capture is None:
            return None
        return window_around(
            self._moment.moment_s,
            choices.waveform_s,
            self._moment.limits,
            choices.waveform_place,
        )

    def by(self, factor: float) -> None:
        """Show `factor` times as much; the moment stays where it is as far as the ends allow."""
        capture, now = self._capture.capture, self.window() or self._automatic()
        if capture is None or now is None or now.length_s <= 0.0:
            return
        rates = [channel.sample_rate_hz for channel in capture.channels.values()]
        whole = self._moment.limits.length_s
        least = min(shortest_window_s(max(rates)), whole)
        length = min(max(now.length_s * factor, least), whole)
        place = (self._moment.moment_s - now.start_s) / now.length_s
        self._choice.set(waveform_s=length, waveform_place=min(max(place, 0.0), 1.0))

    def walk(self, share: float) -> None:
        """Move the moment by a share of the window, and the window with it."""
        now = self.window() or self._automatic()
        if now is not None:
            self._moment.set(self._moment.moment_s + share * now.length_s)

    def reset(self) -> None:
        """Back to the automatic window."""
        self._choice.set(waveform_s=None, waveform_place=0.5)

    def _automatic(self) -> TimeSpan | None:
        """The automatic window as it was answered last, about the moment as it is now."""
        result: MomentResult | None = self._reader.result
        if result is None:
            return None
        length_s = result.waveform_span.length_s
        return window_around(self._moment.moment_s, length_s, self._moment.limits)

    def _choice_changed(self, names: frozenset[str]) -> None:
        if names & {"waveform_s", "waveform_place"}:
            self.changed.emit()

    def _moved(self, _moment_s: float) -> None:
        if self.chosen:
            self.changed.emit()
