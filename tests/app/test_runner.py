"""The job runner: newest wins, cancel, progress, errors, shutdown."""

from __future__ import annotations

import threading

import pytest

from analysis.jobs import JobCancelled
from app.work.latest import Latest
from app.work.runner import Callbacks, JobRunner

WAIT_S = 10.0


@pytest.fixture
def runner(qapp):
    made = JobRunner()
    yield made
    made.shutdown()


class Held:
    """A job that stands still until it is let go, and reports before and after."""

    def __init__(self, answer: object) -> None:
        self.answer = answer
        self.started, self.go = threading.Event(), threading.Event()
        self.cancelled = False

    def __call__(self, progress):
        try:
            progress.report(0.1, "started")
            self.started.set()
            assert self.go.wait(WAIT_S)
            progress.report(0.9, "let go")
        except JobCancelled:
            self.cancelled = True
            raise
        return self.answer


def test_a_result_comes_in_the_gui_thread(qtbot, runner):
    got = []
    runner.run(
        "k",
        lambda _progress: threading.current_thread().name,
        Callbacks(result=lambda name: got.append((name, threading.current_thread()))),
    )
    qtbot.waitUntil(lambda: bool(got))
    assert got[0][0].startswith("job")
    assert got[0][1] is threading.main_thread()


def test_the_newest_of_a_key_wins_and_the_older_one_is_stopped(qtbot, runner):
    old, got = Held("old"), []
    runner.run("k", old, Callbacks(result=got.append))
    assert old.started.wait(WAIT_S)
    runner.run("k", lambda _progress: "new", Callbacks(result=got.append))
    qtbot.waitUntil(lambda: got == ["new"])
    old.go.set()
    qtbot.waitUntil(runner.is_idle)
    assert old.cancelled
    assert got == ["new"]


def test_a_stale_answer_that_could_not_be_stopped_is_discarded(qtbot, runner):
    started, go, got, discarded = threading.Event(), threading.Event(), [], []

    def deaf(_progress):
        started.set()
        go.wait(WAIT_S)
        return "old"

    runner.run("k", deaf, Callbacks(result=got.append, discard=discarded.append))
    assert started.wait(WAIT_S)
    runner.run("k", lambda _progress: "new", Callbacks(result=got.append))
    go.set()
    qtbot.waitUntil(lambda: discarded == ["old"] and got == ["new"])


def test_pending_older_jobs_never_start(qtbot, qapp):
    runner = JobRunner(threads=1)
    first, ran, got = Held(0), [], []
    runner.run("other", first, Callbacks())
    assert first.started.wait(WAIT_S)
    for number in range(5):
        runner.run(
            "k", lambda _progress, n=number: ran.append(n) or n, Callbacks(result=got.append)
        )
    first.go.set()
    qtbot.waitUntil(lambda: got == [4])
    assert ran == [4]
    runner.shutdown()


def test_keys_do_not_disturb_each_other(qtbot, runner):
    got = []
    for key in "abc":
        runner.run(key, lambda _progress, k=key: k, Callbacks(result=got.append))
    qtbot.waitUntil(lambda: sorted(got) == ["a", "b", "c"])


def test_progress_and_partial_results_are_told(qtbot, runner):
    told, parts, got = [], [], []

    def work(progress):
        progress.report(0.5, "half")
        progress.partial("part")
        return "whole"

    runner.run(
        "k",
        work,
        Callbacks(
            result=got.append, progress=lambda *share: told.append(share), partial=parts.append
        ),
    )
    qtbot.waitUntil(lambda: got == ["whole"])
    assert told == [(0.5, "half")]
    assert parts == ["part"]


def test_cancel_stops_at_the_next_report(qtbot, runner):
    job, got, stopped = Held("x"), [], []
    runner.run("k", job, Callbacks(result=got.append, cancelled=lambda: stopped.append(True)))
    assert job.started.wait(WAIT_S)
    runner.cancel("k")
    assert stopped == [True]
    assert not runner.is_running("k")
    job.go.set()
    qtbot.waitUntil(runner.is_idle)
    assert job.cancelled
    assert got == []


def test_errors_without_a_taker_go_to_one_place(qtbot, runner):
    failures = []
    runner.failed.connect(failures.append)

    def bad(_progress):
        raise ValueError("no good")

    runner.run("k", bad, Callbacks(), title="Trying")
    qtbot.waitUntil(lambda: bool(failures))
    assert str(failures[0].error) == "no good"
    assert failures[0].title == "Trying"
    assert "in bad" in failures[0].trace


def test_after_running_waits_for_what_runs_now(qtbot, runner):
    job, order = Held("x"), []
    runner.run("k", job, Callbacks())
    assert job.started.wait(WAIT_S)
    runner.after_running(lambda: order.append(("closed", job.cancelled)))
    runner.cancel("k")
    assert order == []
    job.go.set()
    qtbot.waitUntil(lambda: order == [("closed", True)])


def test_shutdown_in_the_middle_waits_and_hands_nothing_on(qtbot, qapp):
    runner, job, got, discarded = JobRunner(), Held("x"), [], []
    runner.run("k", job, Callbacks(result=got.append, discard=discarded.append))
    assert job.started.wait(WAIT_S)
    threading.Timer(0.05, job.go.set).start()
    runner.shutdown()
    qapp.processEvents()
    assert job.cancelled
    assert got == []
    assert not [t for t in threading.enumerate() if t.name.startswith("job")]
    runner.run("k", lambda _progress: 1, Callbacks(result=got.append))
    qapp.processEvents()
    assert got == []


def test_requests_faster_than_answers_show_the_last_one_and_some_before(qtbot, runner):
    """A drag: answers keep coming while it goes on, and the last request is the last answer."""
    got = []
    latest = Latest(runner, "k", "drag", got.append)
    gates = [Held(number) for number in range(3)]
    latest.ask(gates[0])
    assert gates[0].started.wait(WAIT_S)
    latest.ask(gates[1])
    latest.ask(gates[2])
    gates[0].go.set()
    gates[2].go.set()
    qtbot.waitUntil(lambda: got == [0, 2])
    assert not gates[1].started.is_set()


def test_a_dropped_request_is_never_answered(qtbot, runner):
    got, job = [], Held("x")
    latest = Latest(runner, "k", "drag", got.append)
    latest.ask(job)
    assert job.started.wait(WAIT_S)
    latest.ask(lambda _progress: "next")
    latest.drop()
    job.go.set()
    qtbot.waitUntil(runner.is_idle)
    assert got == []


def test_nobody_takes_a_question_that_waits_for_painting_for_rest(qtbot, runner):
    first, got, at_rest = Held("first"), [], []

    def answered(result):
        got.append(result)
        at_rest.append(len(got) == 1 and runner.is_idle())

    latest = Latest(runner, "k", "drag", answered)
    latest.ask(first)
    assert first.started.wait(WAIT_S)
    latest.ask(lambda _progress: "second")
    first.go.set()
    qtbot.waitUntil(lambda: len(got) == 2)
    assert got == ["first", "second"]
    assert at_rest == [False, False]
    qtbot.waitUntil(runner.is_idle)
