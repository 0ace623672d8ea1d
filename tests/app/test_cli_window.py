"""`runtrue [CAPTURE]`: is there a screen, and what is done where there is none."""

from __future__ import annotations

import os
import subprocess
import sys
import types
from pathlib import Path

import pytest

from app.cli import display, window
from app.cli.display import missing_packages, why_no_screen
from app.cli.main import main

ROOT = Path(__file__).parents[2]
FEW = str(ROOT / "sample_data" / "few_turns.csv")


@pytest.mark.parametrize(
    ("environment", "system", "told"),
    [
        ({}, "linux", "neither DISPLAY nor WAYLAND_DISPLAY"),
        ({"DISPLAY": ""}, "linux", "neither"),
        ({"DISPLAY": ":7931"}, "linux", "nothing answers at the display :7931"),
        ({"DISPLAY": "rubbish"}, "linux", "nothing answers"),
        ({"WAYLAND_DISPLAY": "wayland-7931"}, "linux", "nothing answers"),
        ({"QT_QPA_PLATFORM": "offscreen", "DISPLAY": ":0"}, "linux", "offscreen"),
        ({"QT_QPA_PLATFORM": "minimal"}, "linux", "minimal"),
        ({"QT_QPA_PLATFORM": "wayland", "DISPLAY": ":7931"}, "linux", "nothing answers"),
        ({"QT_QPA_PLATFORM": "vnc"}, "linux", None),
        ({}, "win32", None),
        ({}, "darwin", None),
    ],
)
def test_looking_for_a_screen(environment: dict[str, str], system: str, told: str | None) -> None:
    reason = why_no_screen(environment, system)
    if told is None:
        assert reason is None
    else:
        assert reason is not None
        assert told in reason


def test_missing_libraries_are_named_by_their_packages(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(display, "_loads", lambda library: "xcb-cursor" not in library)
    assert missing_packages({"DISPLAY": ":0"}, "linux") == ["libxcb-cursor0"]
    assert missing_packages({"QT_QPA_PLATFORM": "offscreen"}, "linux") == []
    assert missing_packages({}, "win32") == []


@pytest.fixture
def no_screen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setattr(window, "why_no_screen", lambda: "no DISPLAY")
    # Set before the program does, so that nothing of it stays behind for the tests of the window.
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    monkeypatch.setenv("QT_LOGGING_RULES", "")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setattr(window, "why_no_screen", lambda: None)
    monkeypatch.setattr(window, "missing_packages", lambda *_: [])
    monkeypatch.chdir(tmp_path)
    return tmp_path


def stand_in(monkeypatch: pytest.MonkeyPatch, name: str, **attributes: object) -> None:
    module = types.ModuleType(name)
    for key, value in attributes.items():
        setattr(module, key, value)
    monkeypatch.setitem(sys.modules, name, module)


def test_with_a_screen_the_window_opens(
    screen: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened: list[tuple[Path | None, Path | None]] = []

    def open_window(capture: Path | None, setup: Path | None) -> int:
        opened.append((capture, setup))
        return 0

    stand_in(monkeypatch, "app.main_window", open_window=open_window)
    assert main([]) == 0
    assert main([FEW]) == 0
    setup = FEW.replace(".csv", ".toml")
    assert main(["--setup", setup, FEW]) == 0
    assert opened == [(None, None), (Path(FEW), None), (Path(FEW), Path(setup))]
    assert capsys.readouterr().err == ""


def test_a_file_that_is_not_there_opens_no_window(
    screen: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["absent.h5"]) == 1
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "absent.h5" in err


def test_a_file_named_like_a_command(
    screen: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened: list[Path | None] = []

    def open_window(capture: Path | None, setup: Path | None) -> int:
        opened.append(capture)
        return 0

    stand_in(monkeypatch, "app.main_window", open_window=open_window)
    Path("measure").write_bytes(b"x")
    assert main(["./measure"]) == 0
    assert opened == [Path("measure")]
    assert main(["measure"]) == 2


def test_without_a_screen_and_a_capture(
    no_screen: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([]) == 1
    told = capsys.readouterr()
    assert told.err.count("\n") == 1
    assert "no screen" in told.err
    assert list(no_screen.iterdir()) == []


def test_without_a_screen_the_report_is_written(
    no_screen: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def write_report(capture: Path, setup: Path | None, folder: Path) -> list[Path]:
        (folder / "moment.png").write_bytes(b"x")
        return [folder / "moment.png"]

    stand_in(monkeypatch, "app.reports.headless", write_report=write_report)
    assert main([FEW]) == 0
    told = capsys.readouterr()
    assert "no screen" in told.err
    assert str(no_screen / "runtrue-report") in told.out
    assert "moment.png" in told.out
    assert (no_screen / "runtrue-report" / "moment.png").exists()


def test_where_nothing_can_be_written_the_report_goes_elsewhere(
    no_screen: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folders: list[Path] = []

    def write_report(capture: Path, setup: Path | None, folder: Path) -> list[Path]:
        folders.append(folder)
        return []

    stand_in(monkeypatch, "app.reports.headless", write_report=write_report)
    elsewhere = no_screen / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.setattr(window.tempfile, "mkdtemp", lambda prefix: str(elsewhere))
    (no_screen / "runtrue-report").write_text("a file stands in the way")
    assert main([FEW]) == 0
    assert folders == [elsewhere]
    assert str(elsewhere) in capsys.readouterr().out


def test_without_system_libraries_the_readings_are_written(
    no_screen: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Blocked:
        def find_spec(self, name: str, *_: object) -> None:
            if name == "app.reports.headless":
                raise ImportError("libEGL.so.1: cannot open shared object file")

    monkeypatch.delitem(sys.modules, "app.reports.headless", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Blocked(), *sys.meta_path])
    assert main([FEW]) == 0
    told = capsys.readouterr()
    assert "libEGL.so.1" in told.err
    assert "apt install" in told.err
    assert "libegl1" in told.err
    text = (no_screen / "runtrue-report" / "few_turns-readings.txt").read_text(encoding="utf-8")
    assert "4980.0 r/min" in text


def test_with_a_screen_but_no_libraries(
    screen: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(window, "missing_packages", lambda *_: ["libxcb-cursor0"])
    assert main([]) == 1
    assert "apt install libxcb-cursor0" in capsys.readouterr().err
    assert main([FEW]) == 0
    assert "readings.txt" in capsys.readouterr().out


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="others always have a screen")
def test_the_report_of_a_sample_is_really_written(tmp_path: Path) -> None:
    environment = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    environment |= {"QT_QPA_PLATFORM": "", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-m", "app", str(ROOT / "sample_data" / "run_up.h5")],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("\n") == 1
    assert "no screen" in done.stderr
    folder = tmp_path / "runtrue-report"
    assert str(folder) in done.stdout
    picture = (folder / "run_up-moment.png").read_bytes()
    assert picture.startswith(b"\x89PNG\r\n")
    assert len(picture) > 50_000
    assert "DE-X" in (folder / "run_up-readings.txt").read_text(encoding="utf-8")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="others always have a screen")
def test_qt_is_not_touched_before_the_screen_is_looked_for() -> None:
    code = (
        "import sys\n"
        "from app.cli.main import main\n"
        "status = main([])\n"
        "print(status, [m for m in sys.modules if m.startswith(('PySide6', 'pyqtgraph'))])\n"
    )
    environment = {"PATH": "", "QT_QPA_PLATFORM": "", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.stdout.strip() == "1 []"
