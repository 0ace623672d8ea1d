"""What the command line says to a newcomer, and how it ends."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from app.cli import main as cli
from app.cli.main import main
from app.cli.texts import COMMANDS

ROOT = Path(__file__).parents[2]
RUN_UP = str(ROOT / "sample_data" / "run_up.h5")


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "app", *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
    )


def test_help_tells_commands_examples_statuses_and_caution(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    for name in COMMANDS:
        assert f"\n  {name} " in text
    for part in ("examples:", "exit status:", "no protection system", "CAPTURE", "setup"):
        assert part in text
    assert max(len(line) for line in text.splitlines()) <= 100


@pytest.mark.parametrize("name", list(COMMANDS))
def test_every_command_has_its_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([name, "--help"]) == 0
    text = capsys.readouterr().out
    assert f"usage: runtrue {name}" in text
    assert "example" in text


def test_examples_of_the_help_name_files_that_are_there(
    capsys: pytest.CaptureFixture[str],
) -> None:
    named = set()
    for words in (["--help"], *([name, "--help"] for name in COMMANDS)):
        main(words)
        for word in capsys.readouterr().out.split():
            if word.startswith("sample_data/"):
                named.add(word)
    assert len(named) >= 4
    for name in named:
        assert (ROOT / name).exists(), name


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("runtrue 0.")


@pytest.mark.parametrize(
    "words",
    [
        ["measure"],
        ["measure", RUN_UP, "--from", "x"],
        ["measure", RUN_UP, "--from", "nan"],
        ["measure", RUN_UP, "--from", "9", "--to", "3"],
        ["measure", RUN_UP, "--speed", "0"],
        ["measure", RUN_UP, "--speed", "-3"],
        ["measure", RUN_UP, "--orders", "0"],
        ["measure", RUN_UP, "--orders", "1,,2"],
        ["measure", RUN_UP, "--orders", "1000000"],
        ["measure", RUN_UP, "--unit", "inch"],
        ["measure", RUN_UP, "--jsno"],
        ["measure", RUN_UP, "--columns", "=A"],
        ["measure", RUN_UP, "--separator", ",", "--decimal", ","],
        ["measure", RUN_UP, "--sample-rate", "inf"],
        ["measure", RUN_UP, "--skip-rows", "-1"],
        ["convert", RUN_UP],
        ["simulate", "x.toml"],
        ["--nonsense"],
        ["mesure", RUN_UP],
        ["one.h5", "two.h5"],
    ],
)
def test_wrong_usage_is_status_2(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "Traceback" not in told.err
    assert "runtrue" in told.err


def test_a_slip_of_the_pen_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["mesure", "x.h5"]) == 2
    assert "did you mean runtrue measure?" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["measure.h5", "./mesure", "mesures/run.h5", "elsewhere"])
def test_a_file_that_is_not_there_is_bad_input(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([name]) == 1
    told = capsys.readouterr()
    assert told.err.count("\n") == 1
    assert "no such file" in told.err


def test_a_command_is_the_program_when_it_really_runs() -> None:
    done = run("measure", RUN_UP, "--from", "70", "--to", "71")
    assert done.returncode == 0
    assert done.stderr == ""
    assert "5300.0 r/min" in done.stdout
    bad = run("measure", "absent.h5")
    assert bad.returncode == 1
    assert bad.stdout == ""
    assert bad.stderr.count("\n") == 1
    assert bad.stderr.startswith("runtrue: absent.h5: ")


def test_measuring_waits_for_no_window_and_no_big_library() -> None:
    code = (
        "import sys\n"
        "from app.cli.main import main\n"
        f"main(['measure', {RUN_UP!r}, '--from', '70', '--to', '71'])\n"
        "heavy = {'PySide6', 'pyqtgraph', 'polars', 'tomlkit', 'scipy.signal'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert done.stderr.strip() == "[]"


def test_a_reader_that_goes_away_is_no_error() -> None:
    # head(1) closes the pipe: here it is closed before the first line is written.
    process = subprocess.Popen(
        [sys.executable, "-m", "app", "--help"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    told = process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=60) == 0
    assert told == b""


class Failing:
    """A command that fails in a way of its own."""

    def __init__(self, error: BaseException) -> None:
        self.error = error

    def add_arguments(self, parser: object) -> None:
        """None."""

    def run(self, arguments: object) -> int:
        raise self.error


@pytest.mark.parametrize(
    ("error", "status", "told"),
    [
        (ZeroDivisionError("by\nzero"), 1, "ZeroDivisionError: by zero"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (MemoryError(), 1, "out of memory"),
        (PermissionError(13, "Permission denied", "locked.h5"), 1, "locked.h5: Permission denied"),
        (BrokenPipeError(), 0, ""),
    ],
)
def test_unexpected_ends_take_one_line(
    error: BaseException,
    status: int,
    told: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(cli, "import_module", lambda *_: Failing(error))
    monkeypatch.delenv("RUNTRUE_DEBUG", raising=False)
    assert main(["measure"]) == status
    err = capsys.readouterr().err
    assert told in err
    assert err.count("\n") == (1 if told else 0)


def test_debugging_adds_the_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(cli, "import_module", lambda *_: Failing(ZeroDivisionError("x")))
    monkeypatch.setenv("RUNTRUE_DEBUG", "1")
    assert main(["measure"]) == 1
    assert "Traceback" in capsys.readouterr().err
