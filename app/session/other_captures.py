"""Other captures whose measures the trip boundary takes in as well: read once, then let go of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from analysis.model.errors import InputError
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import Notice, NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.replay_results import MonitorSeries
    from analysis.model.setup import Setup

    from .capture_state import CaptureState

KEY = "other captures"


class OtherCaptures(QObject):
    """Measures by the name of their capture. They go with the capture that they stand beside."""

    changed = Signal()

    def __init__(self, capture: CaptureState, runner: JobRunner, notices: NoticeState) -> None:
        super().__init__()
        self._capture = capture
        self._runner = runner
        self._notices = notices
        self._series: dict[str, MonitorSeries] = {}
        capture.changed.connect(self.clear)

    @property
    def series(self) -> Mapping[str, MonitorSeries]:
        """The measures of each, by name; never changed, only replaced."""
        return self._series

    def add(self, paths: Sequence[Path]) -> None:
        """Read these captures, one after the other."""
        setup, capture = self._capture.setup, self._capture.capture
        if setup is None or capture is None or not paths:
            return
        own_name = capture.name
        self._notices.dismiss(KEY)

        def work(progress: JobProgress) -> dict[str, MonitorSeries]:
            found = {}
            for path in paths:
                progress.report(len(found) / len(paths), path.name)
                name = path.name if path.name != own_name else f"{path.parent.name}/{path.name}"
                found[name] = read_series(path, setup, progress)
            return found

        callbacks = Callbacks(result=self._read, error=self._failed)
        title = paths[0].name if len(paths) == 1 else f"{len(paths)} captures"
        self._runner.run(KEY, work, callbacks, title=f"Measures of {title}")

    def remove(self, name: str) -> None:
        """Without this one."""
        self._set({known: series for known, series in self._series.items() if known != name})

    def clear(self) -> None:
        """Without any."""
        self._runner.cancel(KEY)
        self._set({})

    def _read(self, found: dict[str, MonitorSeries]) -> None:
        self._set({**self._series, **found})
        told = [f"{name}: {text}" for name, series in found.items() for text in series.notices]
        if told:
            self._notices.show(Notice(KEY, "info", "Captures beside this one", "\n".join(told)))

    def _failed(self, failure: Failure) -> None:
        what = "A capture beside this one could not be read"
        self._notices.show(notice_of_error(KEY, what, failure.error, failure.trace))

    def _set(self, series: dict[str, MonitorSeries]) -> None:
        if series.keys() != self._series.keys() or any(
            series[name] is not self._series[name] for name in series
        ):
            self._series = series
            self.changed.emit()


def read_series(path: Path, setup: Setup, progress: JobProgress) -> MonitorSeries:
    """The measures of another capture; with its own setup where that knows the same probes.

    Raises:
        InputError: when it cannot be read, or has none of the probes that limits look at.
    """
    from analysis.files.open import open_capture
    from analysis.files.overview_cache import OverviewCache
    from analysis.protection.monitor import monitor_series
    from analysis.views.timeline import answer_timeline

    capture = open_capture(path, progress=progress)
    try:
        used = _setup_for(capture, setup)
        table = answer_timeline(capture, used, progress=progress, cache=OverviewCache()).table
        return monitor_series(capture, used, table, progress=progress)
    finally:
        capture.close()


def _setup_for(capture: Capture, setup: Setup) -> Setup:
    from .opening import with_setup

    judged = {name for limit in setup.limit for name in limit.probes}
    own = with_setup(capture, None).setup
    if own is not None and judged <= {probe.name for probe in own.probe}:
        return own
    there = {probe.name for probe in setup.probe if probe.channel in capture.channels}
    if not judged & there:
        raise InputError(
            f"{capture.name}: it has none of the probes that the limits look at "
            f"({', '.join(sorted(judged))}); open a capture of the same machine"
        )
    return setup
