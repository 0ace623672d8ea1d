"""What stands behind `runtrue`: which command is meant, and how it ends.

Commands are imported when they are called: `measure` shall not wait for the window's libraries.
"""

from __future__ import annotations

import argparse
import difflib
import os
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Protocol

from analysis.jobs import JobCancelled
from analysis.model.errors import InputError

from .console import complain, one_line, prepare_streams
from .texts import COMMANDS, MAIN_EPILOG, MAIN_TEXT, USAGES, version_text

DONE, BAD_INPUT, WRONG_USAGE, INTERRUPTED = 0, 1, 2, 130


class Command(Protocol):
    """A module of this folder: what it takes, and what it does."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Put the command's options on its parser."""

    def run(self, arguments: argparse.Namespace) -> int:
        """Do it; the exit status. Bad input raises `InputError`."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the program with these arguments (the process's own by default); the exit status.

    0 done, 1 the input is bad (one line on standard error), 2 wrong usage, 130 interrupted.
    """
    prepare_streams()
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        return _run(words)
    except SystemExit as stop:  # argparse: 0 after --help, 2 for wrong usage
        return stop.code if isinstance(stop.code, int) else WRONG_USAGE
    except InputError as error:
        complain(str(error))
        return BAD_INPUT
    except (KeyboardInterrupt, JobCancelled):
        complain("interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        _let_output_go()
        return DONE
    except OSError as error:
        complain(_of_the_system(error))
        return BAD_INPUT
    except MemoryError:
        complain("out of memory; try a shorter span or a smaller file")
        return BAD_INPUT
    except Exception as error:
        return _unexpected(error)


def _run(words: list[str]) -> int:
    if words and words[0] in COMMANDS:
        name, rest = words[0], words[1:]
        summary = COMMANDS[name]
    else:
        name, rest, summary = "window", words, ""
        _refuse_misspelt_command(words)
    command: Command = import_module(f".{name}", __package__)  # type: ignore[assignment]
    parser = _parser(name, summary)
    command.add_arguments(parser)
    arguments = parser.parse_args(rest)
    arguments.parser = parser
    status = command.run(arguments)
    sys.stdout.flush()
    return status


def _parser(name: str, summary: str) -> argparse.ArgumentParser:
    if name != "window":
        return argparse.ArgumentParser(
            prog=f"runtrue {name}",
            usage=USAGES[name],
            description=summary,
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
    parser = argparse.ArgumentParser(
        prog="runtrue",
        usage="runtrue [CAPTURE] [--setup SETUP.toml]\n       runtrue COMMAND ...",
        description=MAIN_TEXT,
        epilog=MAIN_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=version_text())
    return parser


def _refuse_misspelt_command(words: list[str]) -> None:
    """`runtrue mesure x.h5` is a slip of the pen, no capture called "mesure"."""
    # Only a bare word can be meant as a command: no path, no ending.
    if not words or not words[0].isalpha() or Path(words[0]).exists():
        return
    near = difflib.get_close_matches(words[0], COMMANDS, n=1, cutoff=0.7)
    if near:
        complain(
            f'there is no command and no file "{one_line(words[0])}"; did you mean '
            f"runtrue {near[0]}? (runtrue --help lists the commands)"
        )
        raise SystemExit(WRONG_USAGE)


def _of_the_system(error: OSError) -> str:
    name = error.filename if error.filename is not None else ""
    reason = error.strerror or str(error)
    return f"{one_line(name)}: {reason}" if name else reason


def _unexpected(error: Exception) -> int:
    if os.environ.get("RUNTRUE_DEBUG"):
        traceback.print_exc()
    complain(
        f"stopped by an error of its own ({type(error).__name__}: {error}); please report it; "
        f"RUNTRUE_DEBUG=1 shows where it happened"
    )
    return BAD_INPUT


def _let_output_go() -> None:
    """Whoever read the output has gone; keep the interpreter's last flush from complaining."""
    try:
        devnull = os.open(os.devnull, os.O_WRONLY)
        os.dup2(devnull, sys.stdout.fileno())
    except (OSError, ValueError):  # standard output that is no file
        pass
