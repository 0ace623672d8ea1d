"""Why there is nothing of positions to be seen, by where the session's reader stands."""

from __future__ import annotations

PHASES = {
    "passing": "Reading the capture…",
    "stopped": "The pass over the capture was stopped. “Go on” on the timeline reads the rest.",
    "looking": "Looking at positions…",
    "cut": "Looking at the whole capture was stopped. Look at another page and come back.",
    "failed": "The positions could not be worked out; the message above says why.",
}
NO_PLANE = (
    "No centreline: the setup has no plane. A plane is two radial probes that see the same shaft "
    "section; add one to the setup."
)
