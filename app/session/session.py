"""The session: all shared state of one window, and the few threads between its parts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, cast

from analysis.model.span import TimeSpan
from analysis.signal.windows import WINDOW_NAMES, WindowName
from analysis.views.moment_request import SpectrumChoice
from analysis.views.time_window import shortest_window_s
from app.work.runner import Failure, JobRunner

from .alarms_reader import AlarmsReader
from .answers import MomentReader, TimelineReader
from .capture_state import CaptureState
from .cascade_reader import CascadeReader
from .choice_state import Choices, ChoiceState, OrbitPaths
from .curve_trial import CurveTrial
from .display_state import ThemeState, UnitState
from .laid_over import LaidOver
from .moment_state import DEFAULT_HALF_TURNS, MomentState
from .named_spans import NamedSpan, NamedSpans
from .notices import NoticeState, notice_of_error
from .opening import Opener
from .other_captures import OtherCaptures
from .overview_reader import OverviewReader
from .position_reader import PositionReader
from .probe_check_reader import ProbeCheckReader
from .probe_check_state import ProbeCheckState
from .reset_state import ResetState
from .run_reader import RunReader
from .run_state import RunState
from .runout import RunoutReader
from .settings import Settings
from .span_reader import SpanReader
from .span_state import SpanState
from .trial_state import TrialState
from .waveform_zoom import WaveformZoom
from .zoom_state import TimelineZoom

if TYPE_CHECKING:
    from analysis.signal.spectrum import Scaling

SETUP_SUFFIXES = {".toml"}

_ROOM_BESIDE = 0.05
"""Share of a span that the timeline shows to either side of it."""


class Session:
    """Owner of everything that views share. Views read it and listen to it, never to each other."""

    def __init__(self, settings: Settings | None = None) -> None:
        self.settings = settings or Settings()
        self.runner = JobRunner()
        self.notices = NoticeState()
        self.capture = CaptureState()
        self.moment = MomentState(self.settings.number("half_turns", DEFAULT_HALF_TURNS))
        self.span = SpanState()
        self.spans = NamedSpans(self.settings)
        self.zoom = TimelineZoom()
        self.trial = TrialState()
        self.resets = ResetState()
        self.unit = UnitState(self.settings.unit)
        self.theme = ThemeState(self.settings.theme)
        self.choice = ChoiceState(_remembered(self.settings))
        self.opener = Opener(self.capture, self.runner, self.notices, self.settings)
        # After the capture's limits are known: the readers ask when the setup has changed.
        self.capture.changed.connect(self._capture_changed)
        self.capture.setup_changed.connect(self._setup_changed)
        self.reader = MomentReader(
            self.capture, self.moment, self.choice, self.runner, self.notices
        )
        self.timeline = TimelineReader(
            self.capture, self.choice, self.reader, self.runner, self.notices
        )
        self.overview = OverviewReader(
            self.capture, self.reader, self.timeline, self.choice, self.runner, self.notices
        )
        self.waveform_zoom = WaveformZoom(self.capture, self.moment, self.choice, self.reader)
        self.span_reader = SpanReader(
            self.capture, self.span, self.choice, self.runner, self.notices
        )
        self._make_readers_of_pages()
        self._join()

    def _make_readers_of_pages(self) -> None:
        """The readers that only one page wants, after those that every page has."""
        self.others = OtherCaptures(self.capture, self.runner, self.notices)
        self.alarms = AlarmsReader(
            self.capture,
            self.timeline,
            self.trial,
            self.resets,
            self.others,
            self.unit,
            self.runner,
            self.notices,
        )
        self.position = PositionReader(
            self.capture,
            self.timeline,
            self.moment,
            self.span,
            self.choice,
            self.unit,
            self.runner,
            self.notices,
        )
        self._make_readers_of_runs()
        self.curves = CurveTrial(self.capture)
        self.check = ProbeCheckState()
        self.checks = ProbeCheckReader(
            self.capture,
            self.reader,
            self.choice,
            self.check,
            self.curves,
            self.unit,
            self.runner,
            self.notices,
        )

    def _make_readers_of_runs(self) -> None:
        """What the Run page asks: vectors and critical speeds, the cascade, another run."""
        capture, runner, notices = self.capture, self.runner, self.notices
        self.run_choice = RunState()
        self.run = RunReader(capture, self.timeline, self.run_choice, runner, notices)
        self.cascade = CascadeReader(
            capture, self.timeline, self.run_choice, self.run, runner, notices
        )
        self.opener.table_opened.connect(self.run.open_table)
        self.runout = RunoutReader(
            capture, self.timeline, self.choice, self.run_choice, runner, notices
        )
        self.laid_over = LaidOver(capture, self.run, self.run_choice, runner, notices)

    def _join(self) -> None:
        """What one part does when another one changes."""
        # After the timeline has let go of the old revolutions.
        self.capture.setup_changed.connect(
            lambda: self.trial.set_in_force(self.capture.setup, keep_chosen=True)
        )
        self.moment.moved.connect(self.zoom.keep_in_view)
        self.runner.failed.connect(self._job_failed)
        self.unit.changed.connect(self.settings.set_unit)
        self.moment.half_turns_changed.connect(
            lambda turns: self.settings.remember("half_turns", turns)
        )
        self.choice.changed.connect(self._remember_choices)
        self.theme.changed.connect(self._theme_changed)

    def open(self, path: Path, setup_path: Path | None = None) -> None:
        """Open a capture, or give the open one a setup, by the suffix of the file."""
        if path.suffix.lower() in SETUP_SUFFIXES:
            self.opener.use_setup_file(path)
        else:
            self.opener.open(path, setup_path)

    def timeline_probe(self) -> str | None:
        """The probe whose p-p the timeline shows: the chosen one, else the first that is there."""
        capture, setup = self.capture.capture, self.capture.setup
        if capture is None or setup is None or not setup.probe:
            return None
        there = [probe.name for probe in setup.probe if probe.channel in capture.channels]
        return self.choice.now.timeline_probe or (there or [setup.probe[0].name])[0]

    def speed_at_moment(self) -> float | None:
        """Speed of the shaft at the moment, r/min; `None` where it is not known."""
        turn = self.timeline.turn_at(self.moment.moment_s)
        known = self.timeline.result is not None and len(self.timeline.result.time_s) > 0
        return 60.0 / turn if known else None

    def step_turns(self, turns: float) -> None:
        """Move the moment by turns of the shaft at the speed it has there."""
        now = self.moment.moment_s
        self.moment.set(now + turns * self.timeline.turn_at(now))

    def step_seconds(self, seconds: float) -> None:
        """Move the moment by seconds."""
        self.moment.set(self.moment.moment_s + seconds)

    def go_to_span(self, item: NamedSpan) -> None:
        """Back to a named span: it is chosen, the timeline shows it, the moment is the one kept."""
        self.span.set(item.span)
        self.moment.set(item.moment_s)
        self.see_span()

    def see_span(self) -> None:
        """Let the timeline show the chosen span, with a little beside it."""
        span = self.span.span
        if span is not None:
            self.zoom.show(span.widened(_ROOM_BESIDE * span.length_s))

    def choose_probe(self, name: str) -> None:
        """Look at a probe, and at its plane where it has one."""
        setup = self.capture.setup
        plane = next((p.name for p in setup.plane if name in p.probes), None) if setup else None
        if plane is None:
            self.choice.set(timeline_probe=name)
        else:
            self.choice.set(timeline_probe=name, plane=plane, probes=None)

    def choose_span(self, start_s: float, end_s: float) -> None:
        """Choose the span between two times, in either order."""
        self.span.set(TimeSpan(min(start_s, end_s), max(start_s, end_s)))

    def bound_span(self, *, start: bool) -> None:
        """Let the chosen span start or end at the moment; a new one reaches to the far end."""
        now, span = self.moment.moment_s, self.span.span
        whole = self.moment.limits
        if start:
            end = span.end_s if span is not None and span.end_s > now else whole.end_s
            self.span.set(TimeSpan(now, end))
        else:
            begin = span.start_s if span is not None and span.start_s < now else whole.start_s
            self.span.set(TimeSpan(begin, now))

    def toggle_reset(self) -> None:
        """Put a reset at the moment, or take the one there off, where somebody looks at alarms."""
        if self.alarms.wanted:
            self.resets.toggle(self.moment.moment_s)

    def zoom_timeline(self, factor: float) -> None:
        """Show `factor` times as much about the moment, or about the middle of what is seen."""
        seen, now = self.zoom.seen, self.moment.moment_s
        inside = seen.start_s <= now <= seen.end_s
        self.zoom.by(factor, now if inside else (seen.start_s + seen.end_s) / 2.0)

    def close(self) -> None:
        """Stop all work, wait for it, and let the file go. Widgets may go afterwards."""
        self.runner.shutdown()
        capture = self.capture.capture
        if capture is not None:
            capture.close()

    def _capture_changed(self) -> None:
        capture = self.capture.capture
        if capture is None:
            return
        for topic in ("moment", "timeline"):
            self.notices.dismiss(topic)
        self.trial.set_in_force(None)
        self.resets.set_limits(capture.span)
        # Names of the old capture's planes and probes mean nothing in the new one.
        self.choice.set(plane=None, probes=None, timeline_probe=None, speed_rpm=None)
        self.choice.set(waveform_s=None, waveform_place=0.5)
        self.span.set_limits(capture.span)
        self.spans.load(capture.path, capture.span)
        rates = [channel.sample_rate_hz for channel in capture.channels.values()]
        self.zoom.set_limits(capture.span, shortest_window_s(max(rates)) if rates else 0.0)
        self.moment.set_limits(capture.span)

    def _setup_changed(self) -> None:
        """Begin with a spectrum that can be had: two sides need a plane, orders a reference."""
        setup = self.capture.setup
        if setup is not None:
            self.choice.set_spectrum(
                two_sided=bool(setup.plane),
                probe=None,
                axis="orders" if setup.phase_reference else "hz",
            )

    def _theme_changed(self) -> None:
        self.settings.set_theme(self.theme.choice)

    def _remember_choices(self, names: frozenset[str]) -> None:
        now = self.choice.now
        if names & {"orbit_paths", "spectrum"}:
            self.settings.remember("orbit_paths", now.orbit_paths)
            self.settings.remember("window", now.spectrum.window)
            self.settings.remember("scaling", now.spectrum.scaling)

    def _job_failed(self, failure: Failure) -> None:
        what = f"{failure.title or failure.key} stopped"
        self.notices.show(notice_of_error(failure.key, what, failure.error, failure.trace))


def _remembered(settings: Settings) -> Choices:
    """The choices of the last time, as far as they mean the same in any capture."""
    spectrum = SpectrumChoice(
        window=cast(WindowName, settings.text("window", WINDOW_NAMES, "hann")),
        scaling=cast("Scaling", settings.text("scaling", ("p-p", "peak", "rms"), "p-p")),
    )
    paths = settings.text("orbit_paths", ("raw", "filtered", "both"), "both")
    return Choices(orbit_paths=cast(OrbitPaths, paths), spectrum=spectrum)
