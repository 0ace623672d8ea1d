"""Is there a screen? Asked before Qt is: with none it ends the process, and raises nothing."""

from __future__ import annotations

import ctypes
import os
import socket
import sys
from collections.abc import Mapping
from pathlib import Path

_SECONDS_TO_ANSWER = 2.0
_PLATFORMS_WITHOUT_SCREEN = frozenset(("offscreen", "minimal", "minimalegl"))

# Shared libraries that PySide6's wheels leave to the system, and the Debian packages they are in.
_LIBRARIES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libfontconfig.so.1": "libfontconfig1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libglib-2.0.so.0": "libglib2.0-0",
}
_X11_LIBRARIES = {
    "libxcb.so.1": "libxcb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
}


def why_no_screen(
    environment: Mapping[str, str] = os.environ, system: str = sys.platform
) -> str | None:
    """Why no window can be shown here, in a few words; `None` when one can.

    Windows and macOS always have one. Elsewhere `QT_QPA_PLATFORM` is heeded first, then
    `WAYLAND_DISPLAY` and `DISPLAY`, and somebody must answer there.
    """
    if system in ("win32", "darwin"):
        return None
    platform = environment.get("QT_QPA_PLATFORM", "").split(";")[0].split(":")[0]
    if platform in _PLATFORMS_WITHOUT_SCREEN:
        return f"QT_QPA_PLATFORM is {platform}"
    if platform and platform != "xcb" and not platform.startswith("wayland"):
        return None  # a platform that needs neither: a frame buffer, VNC
    x11, wayland = environment.get("DISPLAY", ""), environment.get("WAYLAND_DISPLAY", "")
    if wayland and platform != "xcb" and _wayland_answers(wayland, environment):
        return None
    if x11 and not platform.startswith("wayland") and _x11_answers(x11):
        return None
    if x11 or wayland:
        return f"nothing answers at the display {x11 or wayland}"
    return "neither DISPLAY nor WAYLAND_DISPLAY is set"


def missing_packages(
    environment: Mapping[str, str] = os.environ, system: str = sys.platform
) -> list[str]:
    """Debian packages with libraries that a window needs and this system lacks."""
    if not system.startswith("linux"):
        return []
    wanted = dict(_LIBRARIES)
    platform = environment.get("QT_QPA_PLATFORM", "")
    if platform == "xcb" or (not platform and not environment.get("WAYLAND_DISPLAY")):
        wanted.update(_X11_LIBRARIES)
    return [package for library, package in wanted.items() if not _loads(library)]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _wayland_answers(display: str, environment: Mapping[str, str]) -> bool:
    # An absolute path stands for itself.
    path = Path(environment.get("XDG_RUNTIME_DIR", "")) / display
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(_SECONDS_TO_ANSWER)
            connection.connect(str(path))
    except (OSError, ValueError):
        return False
    return True


def _x11_answers(display: str) -> bool:
    """Connect as Qt would, so that a server that refuses us counts as none."""
    try:
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return True  # not the screen is missing, the library is: `missing_packages` tells
    xcb.xcb_connect.restype = ctypes.c_void_p
    xcb.xcb_connect.argtypes = [ctypes.c_char_p, ctypes.c_void_p]
    xcb.xcb_connection_has_error.argtypes = [ctypes.c_void_p]
    xcb.xcb_disconnect.argtypes = [ctypes.c_void_p]
    connection = xcb.xcb_connect(os.fsencode(display), None)
    try:
        return xcb.xcb_connection_has_error(connection) == 0
    finally:
        xcb.xcb_disconnect(connection)
