"""`python -m app` and the command `runtrue`: one program."""

from __future__ import annotations

import sys

from app.cli.main import main

__all__ = ["main"]

if __name__ == "__main__":
    sys.exit(main())
