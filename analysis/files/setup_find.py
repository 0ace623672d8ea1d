"""Where the setup of a capture is: in the capture itself, or in a file beside it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from analysis.model.capture import Capture

from .access import read_text
from .setup_read import LARGEST_SETUP_BYTES


@dataclass(frozen=True)
class SetupFound:
    """The text of a setup, what to call its source, and its file (`None`: in the capture)."""

    text: str
    source: str
    path: Path | None


def find_setup(capture: Capture) -> SetupFound | None:
    """The capture's own setup, else `<stem>.toml`, else `setup.toml`, both in its folder.

    The text is not yet checked: give it to `parse_setup` with `source` as its name.

    Raises:
        InputError: when a setup is there but cannot be read.
    """
    if capture.setup_toml is not None:
        return SetupFound(capture.setup_toml, f"setup in {capture.name}", None)
    if capture.path is None:
        return None
    for candidate in (capture.path.with_suffix(".toml"), capture.path.with_name("setup.toml")):
        if candidate != capture.path and candidate.is_file():
            text = read_text(candidate, LARGEST_SETUP_BYTES)
            return SetupFound(text, candidate.name, candidate)
    return None
