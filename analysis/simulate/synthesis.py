"""From a recipe to a capture, the same to the last bit each time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.files.setup_write import setup_to_toml
from analysis.jobs import SILENT, Progress
from analysis.model.capture import ArraySource, Capture, Channel, Floats
from analysis.model.errors import InputError

from .chain import noise_volts_rms, recorded, volts_per_stored, volts_seen
from .mark import ShaftMark
from .noise import WhiteNoise
from .recipe import Recipe
from .recipe_parts import ChannelRecipe, Reference
from .scene import Scene

_BLOCK = 1 << 16
"""Samples made at once: keeps the many intermediate arrays small whatever the capture's length."""
_MOST_VOLTS = 1e6


def simulate(recipe: Recipe, progress: Progress = SILENT, *, name: str = "simulated") -> Capture:
    """The capture that a recipe describes, in memory.

    Every sample depends on the recipe and its own number alone, so that the same recipe gives the
    same stored numbers again. `name` is the capture's name, as a file's would be.

    Raises:
        InputError: when numbers of the recipe lead to absurd volts.
        JobCancelled: when `progress` asks for it.
    """
    scene = Scene(recipe)
    makers = _channel_makers(scene)
    total = sum(recipe.sample_count(part.sample_rate_hz) for _, part, _ in makers)
    done = 0
    channels: dict[str, Channel] = {}
    for channel_id, part, volts_at in makers:
        count = recipe.sample_count(part.sample_rate_hz)
        values: NDArray[Any] = np.empty(count, dtype=part.type)
        for start in range(0, count, _BLOCK):
            progress.report(done / total, f"making {channel_id}")
            stop = min(start + _BLOCK, count)
            time_s = part.start_s + np.arange(start, stop, dtype=np.float64) / part.sample_rate_hz
            with np.errstate(over="ignore", invalid="ignore"):
                volts = volts_at(time_s, start, stop)
            if not np.all(np.abs(volts) < _MOST_VOLTS):  # NaN is not below either
                raise InputError(
                    f"{name}: channel {channel_id} would reach {_MOST_VOLTS:g} V or more; "
                    f"look for absurd values in the recipe and its setup"
                )
            values[start:stop] = recorded(volts, time_s, part)
            done += stop - start
        channels[channel_id] = Channel(
            id=channel_id,
            sample_rate_hz=part.sample_rate_hz,
            source=ArraySource(values),
            start_s=part.start_s,
            volts_per_count=volts_per_stored(part),
        )
    progress.report(1.0, "made")
    return Capture(
        name=name,
        channels=channels,
        title=recipe.title,
        started_at=recipe.started_at,
        notes=recipe.notes,
        setup_toml=setup_to_toml(recipe.setup) if recipe.setup_inside else None,
    )


VoltsAt = Callable[[Floats, int, int], Floats]


def _channel_makers(scene: Scene) -> list[tuple[str, ChannelRecipe | Reference, VoltsAt]]:
    recipe = scene.recipe
    makers: list[tuple[str, ChannelRecipe | Reference, VoltsAt]] = []
    for channel in recipe.channel:
        channel_id = scene.setup_probe(channel.probe).channel
        makers.append((channel_id, channel, _probe_volts(scene, channel, channel_id)))
    if recipe.reference is not None:
        assert recipe.setup.phase_reference is not None  # the recipe's own check saw to it
        channel_id = recipe.setup.phase_reference.channel
        makers.append((channel_id, recipe.reference, _mark_volts(scene, channel_id)))
    return makers


def _probe_volts(scene: Scene, channel: ChannelRecipe, channel_id: str) -> VoltsAt:
    probe = scene.setup_probe(channel.probe)
    noise = WhiteNoise(scene.recipe.seed, channel_id)
    noise_rms = noise_volts_rms(channel, probe)

    def volts_at(time_s: Floats, start: int, stop: int) -> Floats:
        volts = volts_seen(scene.gap_um(channel.probe, time_s), channel, probe)
        if noise_rms > 0.0:
            volts = volts + noise_rms * noise.read(start, stop)
        return volts

    return volts_at


def _mark_volts(scene: Scene, channel_id: str) -> VoltsAt:
    reference, setup = scene.recipe.reference, scene.recipe.setup.phase_reference
    speed = scene.speed
    assert reference is not None
    assert setup is not None
    assert speed is not None
    mark = ShaftMark(reference, setup)
    noise = WhiteNoise(scene.recipe.seed, channel_id)

    def volts_at(time_s: Floats, start: int, stop: int) -> Floats:
        volts = mark.volts(speed.turns(time_s))
        if reference.noise_mv_rms > 0.0:
            volts = volts + reference.noise_mv_rms / 1000.0 * noise.read(start, stop)
        return volts

    return volts_at
