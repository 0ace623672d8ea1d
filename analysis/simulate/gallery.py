"""Named orbit shapes: what makes them, how else they show, and what looks the same.

An orbit is a hint and no verdict: each shape names what else can look like it. The pictures are
made of circles, walls and marks; they claim no forces. How sure a shape is stands beside its
source; nothing here was checked against the books named, so all of them are from memory or common
practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .gallery_chain import CHAIN
from .gallery_constrained import CONSTRAINED
from .gallery_free import FREE
from .gallery_shape import Shape

Group = Literal["free", "constrained", "chain"]


@dataclass(frozen=True)
class Gallery:
    """A group of shapes under one heading."""

    group: Group
    title: str
    shapes: tuple[Shape, ...]


GALLERIES = (
    Gallery("free", "What the shaft does freely", FREE),
    Gallery("constrained", "What holds the shaft", CONSTRAINED),
    Gallery("chain", "What the measuring chain adds", CHAIN),
)

SHAPES: tuple[Shape, ...] = tuple(shape for gallery in GALLERIES for shape in gallery.shapes)


def shape_named(key: str) -> Shape:
    """The shape of a key.

    Raises:
        KeyError: when there is none.
    """
    for shape in SHAPES:
        if shape.key == key:
            return shape
    raise KeyError(key)
