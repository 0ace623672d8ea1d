"""Which setup a command works with."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.setup import Setup


def setup_for(capture: Capture, given: Path | None) -> tuple[Setup | None, list[str]]:
    """The setup given, else the capture's own or the one beside it; with sentences about it.

    Raises:
        InputError: when the setup cannot be read or has errors; all of them.
    """
    from analysis.files.setup_find import find_setup
    from analysis.files.setup_read import parse_setup, read_setup

    if given is not None:
        setup, warnings = read_setup(given)
        return setup, [f"{given.name}: {warning}" for warning in warnings]
    found = find_setup(capture)
    if found is None:
        return None, [
            f"{capture.name} has no setup inside or beside it, so only voltages can be told; "
            f"give one with --setup SETUP.toml"
        ]
    setup, warnings = parse_setup(found.text, found.source)
    return setup, [f"{found.source}: {warning}" for warning in warnings]
