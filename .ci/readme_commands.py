"""Print a command of the README exactly as it stands there, so that what is run cannot drift.

    python3 .ci/readme_commands.py window|tests [windows]

The README has two headings with one command each; under each, the first fenced block is for Linux
and macOS and the second one for Windows.
"""

from __future__ import annotations

import sys
from pathlib import Path

HEADINGS = {"window": "## Open the sample", "tests": "## Run the tests"}
README = Path(__file__).resolve().parent.parent / "README.md"


def commands(readme: str) -> dict[str, list[str]]:
    """The fenced blocks under each of the two headings, in order.

    Raises:
        LookupError: when a heading is missing, or has no block for each kind of system.
    """
    found: dict[str, list[str]] = {}
    for name, heading in HEADINGS.items():
        _, sign, rest = readme.partition(f"\n{heading}\n")
        if not sign:
            raise LookupError(f"README.md has no heading {heading!r}")
        section = rest.partition("\n## ")[0]
        parts = section.split("\n```")
        # Opening and closing fences alternate; an opening one carries its language.
        blocks = [part.partition("\n")[2].strip() for part in parts[1::2]]
        if len(blocks) != 2 or any(len(block.splitlines()) != 1 for block in blocks):
            raise LookupError(f"{heading!r} must have two blocks of one line, not {blocks}")
        found[name] = blocks
    return found


if __name__ == "__main__":
    wanted, *system = sys.argv[1:]
    blocks = commands(README.read_text(encoding="utf-8"))[wanted]
    print(blocks[1] if system == ["windows"] else blocks[0])
