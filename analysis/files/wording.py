"""How this room words what is wrong: one line, the file's name, what is wrong, the mend."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from pathlib import Path

from analysis.model.errors import InputError

_LONGEST = 200


def one_line(text: object, longest: int = _LONGEST) -> str:
    """Text of unknown origin made fit for one line on any screen.

    Control characters and line breaks become spaces, what cannot be encoded becomes `?`, and
    anything longer than `longest` characters is cut. A file may hold every one of them.
    """
    plain = "".join(c if c.isprintable() else " " for c in str(text)[: 4 * longest])
    plain = " ".join(plain.encode("utf-8", "replace").decode("utf-8").split())
    return plain if len(plain) <= longest else plain[: longest - 1] + "…"


def file_error(path: Path, wrong: str, mend: str = "") -> InputError:
    """An `InputError` about a file: its name, what is wrong and what to do."""
    name = one_line(path.name or str(path))
    return InputError(f"{name}: {wrong}; {mend}" if mend else f"{name}: {wrong}")


def system_error(path: Path, error: OSError, doing: str) -> InputError:
    """An `InputError` for what the operating system answered while `doing` something."""
    reason = one_line(error.strerror or error)
    if isinstance(error, PermissionError):
        return file_error(path, f"no permission for {doing}", "ask its owner, or copy the file")
    if isinstance(error, FileNotFoundError):
        return InputError(
            f"{one_line(path, 400)}: there is no such file or folder; check the name and the folder"
        )
    return file_error(path, f"{doing} failed ({reason})", "check the disk and the connection to it")


def near(word: str, known: Iterable[str]) -> str | None:
    """The known word that looks most like it, or `None`."""
    known = list(known)
    lower = {name.lower(): name for name in known}
    found = difflib.get_close_matches(word.lower(), lower, n=1, cutoff=0.6)
    return lower[found[0]] if found else None


def unknown_name(name: str, kind: str, known: Iterable[str]) -> str:
    """What to say about a name that points nowhere."""
    known = list(known)
    guess = near(name, known)
    if guess:
        mend = f"did you mean '{guess}'?"
    elif known:
        mend = f"there are {one_line(', '.join(known), 120)}"
    else:
        mend = f"there is no {kind} at all"
    return f"there is no {kind} '{one_line(name, 60)}' — {mend}"
