"""Standard output and standard error: who writes what, and in how many lines."""

from __future__ import annotations

import io
import os
import sys
import time

_SECONDS_BETWEEN = 0.1
_LONGEST_LINE = 2000


def prepare_streams() -> None:
    """A terminal that cannot write µ or ± gets a question mark, not a traceback.

    A stream that the caller has closed is `None`; what is written to it then goes nowhere.
    """
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")
    if isinstance(sys.stderr, io.TextIOWrapper):
        sys.stderr.reconfigure(errors="backslashreplace")


def one_line(text: object) -> str:
    """Text of unknown origin, without line breaks and control characters."""
    plain = "".join(c if c.isprintable() else " " for c in str(text)[: 2 * _LONGEST_LINE])
    plain = " ".join(plain.split())
    return plain if len(plain) <= _LONGEST_LINE else plain[: _LONGEST_LINE - 1] + "…"


def complain(text: str) -> None:
    """The one line on standard error that tells why nothing was done."""
    print(f"runtrue: {one_line(text)}", file=sys.stderr)


def note(text: str) -> None:
    """A line on standard error beside a result."""
    print(f"runtrue: note: {one_line(text)}", file=sys.stderr)


class TerminalProgress:
    """Progress in one line of standard error that is written over; silent when that is no terminal.

    Use it as a context: the line is wiped at the end.
    """

    def __init__(self) -> None:
        self._shown = 0
        self._last = 0.0
        self._active = sys.stderr.isatty()

    def __enter__(self) -> TerminalProgress:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown:
            print("\r" + " " * self._shown + "\r", end="", file=sys.stderr, flush=True)
            self._shown = 0

    def report(self, fraction: float, what: str = "") -> None:
        """Show the share done, ten times a second at most."""
        now = time.monotonic()
        if not self._active or now - self._last < _SECONDS_BETWEEN:
            return
        self._last = now
        line = f"{100.0 * min(max(fraction, 0.0), 1.0):3.0f} %  {one_line(what)}"[:78]
        print("\r" + line.ljust(self._shown), end="", file=sys.stderr, flush=True)
        self._shown = max(self._shown, len(line))
