"""Recipes: what a synthetic capture is made of. Checked, frozen, and limited in size.

A recipe comes from anywhere, so nothing in it may eat the machine: text, points, channels and
samples are limited.
"""

from __future__ import annotations

import math
import os
import tomllib
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from analysis.files.setup_read import parse_setup
from analysis.files.setup_write import setup_to_toml
from analysis.files.wording import file_error, one_line, system_error
from analysis.model.errors import InputError, SetupError
from analysis.model.setup import Flag, Setup

from .recipe_parts import ChannelRecipe, Line, PlaneMotion, Reference, Speed, Table, Target

MAX_SAMPLE_BYTES = 1 << 30
MAX_DURATION_S = 7 * 86_400.0
MAX_TEXT_BYTES = 1 << 20
_BYTES = {"int16": 2, "int32": 4, "float32": 4, "float64": 8}
_MOST_PROBLEMS_TOLD = 8


class Recipe(Table):
    """A whole synthetic capture.

    `setup` is the setup of contract section 4. It goes into the capture, or (`setup_inside` false)
    into a file beside it when the capture is written.
    """

    version: Literal[1] = 1
    title: Annotated[str, Field(strict=True, max_length=2000)] = ""
    started_at: Annotated[str, Field(strict=True, max_length=100)] = ""
    notes: Annotated[str, Field(strict=True, max_length=20_000)] = ""
    duration_s: Annotated[float, Field(strict=True, gt=0, le=MAX_DURATION_S)]
    seed: Annotated[int, Field(strict=True, ge=0)] = 0
    setup_inside: Flag = True
    speed: Speed | None = None
    reference: Reference | None = None
    plane: Annotated[tuple[PlaneMotion, ...], Field(max_length=64)] = ()
    target: Annotated[tuple[Target, ...], Field(max_length=64)] = ()
    channel: Annotated[tuple[ChannelRecipe, ...], Field(min_length=1, max_length=64)]
    setup: Setup

    @model_validator(mode="after")
    def _everything_fits_together(self) -> Recipe:
        problems = [
            *self._channel_problems(),
            *self._motion_problems(),
            *self._speed_problems(),
            *self._size_problems(),
        ]
        if problems:
            raise ValueError("; ".join(problems))
        return self

    def sample_count(self, rate_hz: float) -> int:
        """Samples of a channel at this rate."""
        return max(1, round(self.duration_s * rate_hz))

    def _channel_problems(self) -> list[str]:
        problems = []
        rest_gaps = {probe.name: probe.rest_gap_um for probe in self.setup.probe}
        in_planes = {name for plane in self.setup.plane for name in plane.probes}
        seen: set[str] = set()
        for channel in self.channel:
            name = channel.probe
            if name not in rest_gaps:
                problems.append(f'channel: no probe "{name}" in the setup')
            elif rest_gaps[name] is None and channel.rest_gap_um is None:
                problems.append(f'channel "{name}": give rest_gap_um, here or in the setup')
            if channel.true_angle_deg is not None and name not in in_planes:
                problems.append(f'channel "{name}": true_angle_deg needs a probe of a plane')
            if name in seen:
                problems.append(f'channel "{name}": appears twice')
            seen.add(name)
        if self.reference is not None and self.setup.phase_reference is None:
            problems.append("reference: the setup has no [setup.phase_reference]")
        return problems

    def _motion_problems(self) -> list[str]:
        problems = []
        planes = {plane.name: plane for plane in self.setup.plane}
        probes = {probe.name: probe for probe in self.setup.probe}
        for motion in self.plane:
            plane = planes.get(motion.name)
            if plane is None:
                problems.append(f'plane: no plane "{motion.name}" in the setup')
                continue
            if motion.eccentricity_ratio and plane.clearance_um is None:
                problems.append(f'plane "{motion.name}": eccentricity_ratio needs clearance_um')
            for name in plane.probes:
                if name not in probes or probes[name].angle_deg is None:
                    problems.append(f'plane "{motion.name}": probe "{name}" needs an angle_deg')
        for names, what in (
            ([motion.name for motion in self.plane], "plane"),
            ([name for target in self.target for name in target.probes], "target: probe"),
        ):
            problems += [f'{what} "{name}": appears twice' for name in _repeated(names)]
        for target in self.target:
            for name in target.probes:
                if name not in probes:
                    problems.append(f'target: no probe "{name}" in the setup')
        return problems

    def _speed_problems(self) -> list[str]:
        if self.speed is not None:
            return []
        lines: list[Line] = [line for plane in self.plane for line in plane.component]
        lines += [line for target in self.target for line in target.vibration]
        turning = (
            self.reference is not None
            or any(p.unbalance or p.response or p.eccentricity_ratio for p in self.plane)
            or any(line.order is not None or line.over_speed is not None for line in lines)
            or any(channel.runout or channel.scratch for channel in self.channel)
        )
        return ["speed: a table [speed] is missing, and parts of the recipe need it"] * turning

    def _size_problems(self) -> list[str]:
        size = sum(
            math.ceil(self.duration_s * part.sample_rate_hz) * _BYTES[part.type]
            for part in (*self.channel, *((self.reference,) if self.reference else ()))
        )
        if size <= MAX_SAMPLE_BYTES:
            return []
        return [
            f"duration_s × sample_rate_hz of all channels makes {size / 1e6:.0f} MB of samples, "
            f"more than the {MAX_SAMPLE_BYTES / 1e6:.0f} MB allowed: shorten it or lower the rates"
        ]


def _repeated(names: list[str]) -> list[str]:
    return sorted({name for name in names if names.count(name) > 1})


def read_recipe(path: str | os.PathLike[str]) -> Recipe:
    """Read and check a recipe.

    Raises:
        InputError: when the file cannot be read, is no TOML, or is no recipe; all that is wrong, in
            one line with the file's name and the keys.
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_TEXT_BYTES + 1)
    except OSError as error:
        raise system_error(path, error, "reading it") from error
    except ValueError as error:  # a name with a NUL
        raise file_error(path, "this cannot be a file's name", "check the name") from error
    if len(raw) > MAX_TEXT_BYTES:
        raise file_error(
            path, f"larger than {MAX_TEXT_BYTES >> 10} KiB", "a recipe is a short TOML file"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise file_error(
            path, "is no text in UTF-8", "a recipe is a TOML file; a capture needs no making"
        ) from error
    return parse_recipe(text, path.name)


def parse_recipe(text: str, source_name: str) -> Recipe:
    """Check the text of a recipe; `source_name` is what errors call it.

    Raises:
        InputError: as `read_recipe`.
    """
    name = one_line(source_name)
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{name}: is no TOML: {one_line(error)}; mend that line") from error
    except (RecursionError, ValueError) as error:  # nested too deep; an integer too long
        raise InputError(f"{name}: is no TOML that can be read ({one_line(error)})") from error
    told: list[str] = []
    try:
        recipe = Recipe.model_validate(document)
        # The setup as the capture will carry it must be one that can be read again.
        parse_setup(setup_to_toml(recipe.setup), name)
        return recipe
    except ValidationError as error:
        told = [_told(item) for item in error.errors(include_url=False, include_input=False)]
    except SetupError as error:
        told = [f"setup.{issue.where}: {issue.message}" for issue in error.issues]
    more = len(told) - _MOST_PROBLEMS_TOLD
    if more > 0:
        told = [*told[:_MOST_PROBLEMS_TOLD], f"and {more} more"]
    raise InputError(f"{name}: " + "; ".join(told))


def _told(problem: ErrorDetails) -> str:
    where = ""
    for part in problem["loc"]:
        # Tables are counted from 1, as a reader counts them.
        where += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if where else part
    if problem["type"] == "extra_forbidden":
        message = "no such key in a recipe: take it out or mend its spelling"
    elif problem["type"] == "missing":
        message = "is missing: add it"
    else:
        message = one_line(problem["msg"].removeprefix("Value error, "), 500)
    where = one_line(where)
    return f"{where}: {message}" if where else message
