"""The answers to the Probe check page: asked for while it is in sight, newest wins."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QObject, Signal

from analysis.calibration.calibrator_setup import is_calibrator_setup
from app.work.latest import Latest
from app.work.runner import Callbacks, Failure, JobProgress, JobRunner

from .notices import NoticeState, notice_of_error

if TYPE_CHECKING:
    from analysis.model.calibration_results import SteadyStretch
    from analysis.model.setup import Setup
    from analysis.views.curve_effect import CurveEffect
    from analysis.views.probe_check import CheckAnswer, CheckRequest

    from .answers import MomentReader
    from .capture_state import CaptureState
    from .choice_state import ChoiceState
    from .curve_trial import CurveTrial
    from .display_state import UnitState
    from .probe_check_state import ProbeCheckState

RUN_KEY, CHECK_KEY, EFFECT_KEY = "calibrator run", "probe check", "curve effect"

RunPhase = Literal["idle", "reading", "cut", "failed", "ready"]


class ProbeCheckReader(QObject):
    """Judges what is typed, finds the steps of a run, and tells what a curve would change.

    `answered` comes with every judgement, `effect_answered` when the effect of the curve is known
    or gone, `phase_changed` as the steps of the run are being found.
    """

    answered = Signal()
    effect_answered = Signal()
    phase_changed = Signal()

    def __init__(
        self,
        capture: CaptureState,
        moment: MomentReader,
        choice: ChoiceState,
        check: ProbeCheckState,
        curves: CurveTrial,
        unit: UnitState,
        runner: JobRunner,
        notices: NoticeState,
    ) -> None:
        super().__init__()
        self._capture, self._moment, self._choice = capture, moment, choice
        self._check, self._curves, self._unit = check, curves, unit
        self._runner, self._notices = runner, notices
        self._wanted = False
        self._result: CheckAnswer | None = None
        self._effect: CurveEffect | None = None
        self._stretches: tuple[SteadyStretch, ...] | None = None
        self._stretches_of: tuple[object, ...] = ()
        self._phase: RunPhase = "idle"
        self._turned_for: object = None
        self._latest = Latest(runner, CHECK_KEY, "Judging the check", self._answer, self._failed)
        self._effects = Latest(
            runner, EFFECT_KEY, "Reading by the curve", self._answer_effect, self._effect_failed
        )
        for signal in (check.changed, unit.changed):
            signal.connect(self._ask)
        check.facts_changed.connect(self._look)
        choice.changed.connect(self._choice_changed)
        capture.setup_changed.connect(self._setup_changed)
        moment.calm.passed.connect(self._ask_effect)

    @property
    def result(self) -> CheckAnswer | None:
        """The newest answer; `None` until one was asked for."""
        return self._result

    @property
    def effect(self) -> CurveEffect | None:
        """What the table looked at would change; `None`: no curve, no capture, no probe."""
        return self._effect

    @property
    def stretches(self) -> tuple[SteadyStretch, ...] | None:
        """The steady stretches of the run; `None` until they have been found."""
        return self._stretches

    @property
    def phase(self) -> RunPhase:
        """Where finding them stands."""
        return self._phase

    @property
    def wanted(self) -> bool:
        """Whether somebody looks at the answers."""
        return self._wanted

    def want(self, wanted: bool) -> None:
        """Answer from now on, or no more; what has been answered is kept."""
        if wanted != self._wanted:
            self._wanted = wanted
            if wanted:
                self._look()

    def request(self) -> CheckRequest:
        """All that is typed now."""
        from analysis.views.probe_check import CheckRequest

        check = self._check
        return CheckRequest(
            rows=check.rows,
            tolerances=check.tolerances,
            loop=check.loop,
            run=check.run,
            stretches=self._stretches,
            setup=self._capture.setup,
            probe=check.probe,
            unit=self._unit.unit,
        )

    # Judging -------------------------------------------------------------------------------------

    def _look(self) -> None:
        self._find_steps()
        self._ask()

    def _setup_changed(self) -> None:
        """Another probe may be there; a run belongs to its capture."""
        setup, check = self._capture.setup, self._check
        names = [probe.name for probe in setup.probe] if setup is not None else []
        if names and check.probe not in names:
            check.set_facts(probe=names[0])
        self._turn_to_what_fits(setup)
        self._effects.drop()
        self._set_effect(None)
        self._look()

    def _choice_changed(self, names: frozenset[str]) -> None:
        """The probe looked at on the other pages is the one to check, until something is typed."""
        setup, check, wanted = self._capture.setup, self._check, self._choice.now.timeline_probe
        if "timeline_probe" not in names or setup is None or not check.is_blank:
            return
        if wanted in [probe.name for probe in setup.probe]:
            check.set_facts(probe=wanted)

    def _turn_to_what_fits(self, setup: Setup | None) -> None:
        """A capture that has just been opened: of a calibrator, or of a machine."""
        capture, check = self._capture.capture, self._check
        if setup is None or capture is self._turned_for:
            return
        self._turned_for = capture
        if is_calibrator_setup(setup):
            check.set_facts(check="run")
        elif check.check == "run":
            check.set_facts(check="table")

    def _ask(self, *_changed: object) -> None:
        if not self._wanted:
            return
        request = self.request()
        if self._result is not None and self._result.request == request:
            self._ask_effect()
            return

        def work(_progress: JobProgress) -> CheckAnswer:
            from analysis.views.probe_check import answer_check

            return answer_check(request)

        self._latest.ask(work)

    def _answer(self, result: CheckAnswer) -> None:
        self._result = result
        self._notices.dismiss(CHECK_KEY)
        self.answered.emit()
        self._ask_effect()

    def _failed(self, failure: Failure) -> None:
        what = "What is typed could not be judged"
        self._notices.show(notice_of_error(CHECK_KEY, what, failure.error, failure.trace))

    # Effect of the curve -------------------------------------------------------------------------

    def _ask_effect(self) -> None:
        if not self._wanted or self._check.check != "table":
            return
        capture, before, now = self._capture.capture, self._curves.setup_before, self._moment.result
        counting = self._result.looked_at(self._check.stage) if self._result is not None else None
        probe = self._check.probe
        names = [each.name for each in before.probe] if before is not None else []
        if capture is None or before is None or now is None or counting is None:
            self._set_effect(None)
            return
        if probe not in names:
            self._set_effect(None)
            return
        setup: Setup = before
        rows, span, speed_rpm = (
            counting[1].table.rows,
            now.readings.span,
            self._choice.now.speed_rpm,
        )

        def work(progress: JobProgress) -> CurveEffect:
            from analysis.views.curve_effect import answer_curve_effect, setup_with_curve

            changed = setup_with_curve(setup, probe, rows)
            return answer_curve_effect(
                capture, setup, changed, probe, span, speed_rpm=speed_rpm, progress=progress
            )

        self._effects.ask(work)

    def _answer_effect(self, effect: CurveEffect) -> None:
        self._notices.dismiss(EFFECT_KEY)
        self._set_effect(effect)

    def _effect_failed(self, failure: Failure) -> None:
        what = "The effect of the curve could not be read"
        self._notices.show(notice_of_error(EFFECT_KEY, what, failure.error, failure.trace))
        self._set_effect(None)

    def _set_effect(self, effect: CurveEffect | None) -> None:
        if effect is not self._effect:
            self._effect = effect
            self.effect_answered.emit()

    # Steps of a run ------------------------------------------------------------------------------

    def _find_steps(self) -> None:
        capture, setup, name = self._capture.capture, self._capture.setup, self._check.probe
        probe = None
        if setup is not None:
            probe = next((each for each in setup.probe if each.name == name), None)
        of = (capture, probe, setup.output if setup is not None else None)
        if of != self._stretches_of:
            other = self._stretches_of[:1] != of[:1]
            self._runner.cancel(RUN_KEY)
            self._stretches, self._stretches_of = None, of
            self._set_phase("idle")
            self._notices.dismiss(RUN_KEY)
            if other:
                self._check.forget_run()
        if not self._wanted or self._check.check != "run" or probe is None or capture is None:
            return
        if self._stretches is None and self._phase in ("idle", "cut"):
            self._read_steps()

    def _read_steps(self) -> None:
        capture, setup, name = self._capture.capture, self._capture.setup, self._check.probe

        def work(progress: JobProgress) -> tuple[SteadyStretch, ...]:
            from analysis.calibration.run import calibrator_run
            from analysis.calibration.run_judge import RunRequest

            assert capture is not None
            assert setup is not None
            run = calibrator_run(capture, setup, RunRequest(name), progress)
            return tuple(step.stretch for step in run.steps if step.stretch is not None)

        def failed(failure: Failure) -> None:
            what = f"The steps of {name} could not be found"
            self._notices.show(notice_of_error(RUN_KEY, what, failure.error, failure.trace))
            self._set_phase("failed")

        self._set_phase("reading")
        callbacks = Callbacks(
            result=self._found, error=failed, cancelled=lambda: self._set_phase("cut")
        )
        self._runner.run(RUN_KEY, work, callbacks, title=f"Finding the steps of {name}")

    def _found(self, stretches: tuple[SteadyStretch, ...]) -> None:
        self._stretches = stretches
        self._set_phase("ready")
        self._ask()

    def _set_phase(self, phase: RunPhase) -> None:
        if phase != self._phase:
            self._phase = phase
            self.phase_changed.emit()
