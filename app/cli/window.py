"""`runtrue [CAPTURE]`: the window; with no screen to open it on, the report in its place."""

from __future__ import annotations

import argparse
import os
import tempfile
from contextlib import suppress
from pathlib import Path

from analysis.files.access import plain_file_size
from analysis.model.errors import InputError

from .console import complain, note
from .display import missing_packages, why_no_screen

REPORT_FOLDER = "runtrue-report"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of the call without a command."""
    parser.add_argument(
        "capture", metavar="CAPTURE", nargs="?", type=Path, help="capture to open at once"
    )
    parser.add_argument(
        "--setup", metavar="SETUP.toml", type=Path, help="setup to use in place of the capture's"
    )


def run(arguments: argparse.Namespace) -> int:
    """Open the window, or write the report."""
    capture: Path | None = arguments.capture
    setup: Path | None = arguments.setup
    for path in (capture, setup):
        if path is not None:
            plain_file_size(path)
    reason = why_no_screen()
    if reason is not None:
        if capture is None:
            complain(
                f"there is no screen to open a window on ({reason}); name a capture to write its "
                f"report instead, or see runtrue --help for the commands"
            )
            return 1
        note(f"there is no screen to open a window on ({reason}); writing the report instead")
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
        # Off screen Qt warns that window sizes cannot be hinted at: nothing to tell a reader.
        os.environ.setdefault("QT_LOGGING_RULES", "default.warning=false")
        return _report(capture, setup)
    packages = missing_packages()
    if packages:
        return _libraries_missing(capture, setup, packages, "")
    try:
        from app.main_window import open_window
    except ImportError as error:
        if not _is_of_the_system(error):
            raise
        return _libraries_missing(capture, setup, [], str(error))
    return open_window(capture, setup)


def _report(capture: Path, setup: Path | None) -> int:
    try:
        from app.reports.headless import write_report
    except ImportError as error:
        if not _is_of_the_system(error):
            raise
        # Off screen Qt needs no X11 libraries, so those are not asked for.
        packages = missing_packages({"QT_QPA_PLATFORM": "offscreen"})
        return _libraries_missing(capture, setup, packages, str(error))
    folder = _report_folder()
    _tell(folder, write_report(capture, setup, folder))
    return 0


def _libraries_missing(
    capture: Path | None, setup: Path | None, packages: list[str], error: str
) -> int:
    """Say what the system lacks; the readings can be written all the same."""
    what = "the system lacks libraries that windows and pictures need"
    if error:
        what += f" ({error})"
    mend = "install them; on Debian and Ubuntu: apt install "
    mend += " ".join(packages) if packages else "libegl1 libgl1 libxkbcommon0 libfontconfig1"
    if capture is None:
        complain(f"{what}; {mend}")
        return 1
    note(f"{what}; {mend}")
    folder = _report_folder()
    _tell(folder, [_readings_as_text(capture, setup, folder)])
    return 0


def _readings_as_text(capture_path: Path, setup_path: Path | None, folder: Path) -> Path:
    from analysis.files.open import open_capture
    from analysis.reporting.readings_text import readings_text, volts_text
    from analysis.views.readings import read_span, read_volts

    from .setups import setup_for
    from .writing import write_text

    capture = open_capture(capture_path)
    try:
        setup, notices = setup_for(capture, setup_path)
        if setup is None:
            text = volts_text(capture.span, read_volts(capture, capture.span), notices)
        else:
            text = readings_text(read_span(capture, setup, capture.span))
    finally:
        capture.close()
    target = folder / f"{capture_path.stem}-readings.txt"
    write_text(target, text)
    return target


def _tell(folder: Path, written: list[Path]) -> None:
    names = ", ".join(path.name for path in written)
    print(f"Report written to {folder.resolve()}: {names}")


def _report_folder() -> Path:
    """`runtrue-report` here, or a folder of its own where nothing can be written here."""
    folder = Path(REPORT_FOLDER)
    with suppress(OSError):
        folder.mkdir(exist_ok=True)
    if folder.is_dir() and os.access(folder, os.W_OK):
        return folder
    try:
        return Path(tempfile.mkdtemp(prefix="runtrue-report-"))
    except OSError as error:
        raise InputError(
            f"{REPORT_FOLDER}: no report can be written here ({error.strerror}); "
            f"change to a folder of your own"
        ) from error


def _is_of_the_system(error: ImportError) -> bool:
    """A shared library that is not there, rather than a Python package."""
    return ".so" in str(error) or "DLL load failed" in str(error)
