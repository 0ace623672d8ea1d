"""Options that say which part of a capture is read, and how: shared by the commands that do."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.capture import Capture
    from analysis.model.span import TimeSpan

_HIGHEST_ORDER = 100
_MOST_ORDERS = 20


def add_span_arguments(parser: argparse.ArgumentParser) -> None:
    """`--setup`, `--from`, `--to`, `--speed` and `--orders`."""
    parser.add_argument(
        "--setup", metavar="SETUP.toml", type=Path, help="setup to use in place of the capture's"
    )
    add_from_to_arguments(parser)
    parser.add_argument(
        "--speed",
        metavar="RPM",
        type=speed,
        help="speed in r/min, for a capture without a phase reference",
    )
    parser.add_argument(
        "--orders",
        metavar="N,N",
        type=_orders,
        default=(1, 2),
        help="orders that vectors and orbits are wanted of (default: 1,2)",
    )


def add_from_to_arguments(parser: argparse.ArgumentParser) -> None:
    """`--from` and `--to` alone."""
    parser.add_argument(
        "--from", dest="from_s", metavar="S", type=seconds, help="start of the span, s"
    )
    parser.add_argument("--to", dest="to_s", metavar="S", type=seconds, help="end of the span, s")


def span_of(arguments: argparse.Namespace, capture: Capture) -> tuple[TimeSpan, list[str]]:
    """The span asked for, clipped to the capture, with sentences about the clipping.

    Raises:
        InputError: when the capture has nothing of it.
    """
    from analysis.model.errors import InputError
    from analysis.model.span import TimeSpan

    whole = capture.span
    start = whole.start_s if arguments.from_s is None else arguments.from_s
    end = whole.end_s if arguments.to_s is None else arguments.to_s
    if start >= whole.end_s or end <= whole.start_s or start >= end:
        raise InputError(
            f"{capture.name}: there is nothing between {start:g} and {end:g} s; the capture runs "
            f"from {whole.start_s:g} to {whole.end_s:g} s"
        )
    asked = TimeSpan(start, end)
    span = asked.clipped_to(whole)
    if span == asked:
        return span, []
    return span, [
        f"the span asked for reaches beyond the capture; read from {span.start_s:g} "
        f"to {span.end_s:g} s"
    ]


def check_span_usage(arguments: argparse.Namespace) -> None:
    """End with wrong usage when the span runs backwards."""
    start, end = arguments.from_s, arguments.to_s
    if start is not None and end is not None and start >= end:
        arguments.parser.error(f"--from ({start:g}) must come before --to ({end:g})")


def seconds(word: str) -> float:
    """A time on the command line."""
    return _number(word, "a time in seconds, such as 12.5")


def speed(word: str) -> float:
    """A speed on the command line."""
    rpm = _number(word, "a speed in r/min, such as 2980")
    if rpm <= 0.0:
        raise argparse.ArgumentTypeError("a speed in r/min must be above zero")
    return rpm


def _number(word: str, what: str) -> float:
    try:
        number = float(word)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f'"{word}" is not {what}')
    return number


def _orders(word: str) -> tuple[int, ...]:
    parts = word.split(",")
    if not all(part.strip().isascii() and part.strip().isdigit() for part in parts):
        raise argparse.ArgumentTypeError(
            f'"{word}" is no list of whole orders with commas, such as 1,2,3'
        )
    orders = sorted({int(part) for part in parts})
    if orders[0] < 1 or orders[-1] > _HIGHEST_ORDER or len(orders) > _MOST_ORDERS:
        raise argparse.ArgumentTypeError(
            f"orders run from 1 to {_HIGHEST_ORDER}, at most {_MOST_ORDERS} of them"
        )
    return tuple(orders)
