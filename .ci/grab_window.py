"""Wait until something is drawn on the display, and save a picture of it.

    python .ci/grab_window.py PICTURE.png [SECONDS]

Exit status 1 when the display stays empty.
"""

from __future__ import annotations

import sys
import time

from PySide6.QtGui import QGuiApplication, QPixmap

COLOURS = 40
"""A window with text has more colours than this; a bare display has one."""
SECONDS_TO_SETTLE = 4.0


def grabbed(application: QGuiApplication) -> QPixmap:
    """The whole display."""
    application.processEvents()
    return application.primaryScreen().grabWindow(0)


def colours_of(picture: QPixmap) -> int:
    """How many colours a coarse grid of the picture has."""
    image = picture.toImage()
    points = ((x, y) for x in range(0, image.width(), 3) for y in range(0, image.height(), 3))
    return len({image.pixel(x, y) for x, y in points})


def main(path: str, seconds: float) -> int:
    """Wait, let it settle, save."""
    application = QGuiApplication(sys.argv[:1])
    start = time.monotonic()
    while colours_of(grabbed(application)) < COLOURS:
        if time.monotonic() - start > seconds:
            print(f"nothing was drawn within {seconds:g} s", file=sys.stderr)
            return 1
        time.sleep(0.3)
    appeared = time.monotonic() - start
    time.sleep(SECONDS_TO_SETTLE)
    picture = grabbed(application)
    if colours_of(picture) < COLOURS or not picture.save(path):
        print("the window went away again, or its picture cannot be saved", file=sys.stderr)
        return 1
    print(f"a window appeared after {appeared:.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], float(sys.argv[2]) if len(sys.argv) > 2 else 120.0))
