"""Attributes of an untrusted HDF5 file: one value each, of the type that is due."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from .wording import file_error, one_line

_LARGEST_ATTRIBUTE_BYTES = 4 * 1024 * 1024


class Attributes:
    """The attributes of one object, read with the name of the file at hand for errors.

    `where` is put before the attribute's name in errors: `"channel DE_X: "` or nothing.
    """

    def __init__(self, path: Path, identifier: Any, where: str = "") -> None:
        self._path = path
        self._id = identifier
        self._where = where

    def has(self, name: str) -> bool:
        """True when there is an attribute of that name."""
        return bool(h5py.h5a.exists(self._id, name.encode()))

    def number(self, name: str, default: float | None = None) -> float:
        """A finite number; `default` when there is none.

        Raises:
            InputError: missing without default, no single number, or NaN or infinite.
        """
        if not self.has(name):
            if default is None:
                raise file_error(
                    self._path, f"{self._where}{name} is missing", "write it as an attribute"
                )
            return default
        value = self._value(name)
        if isinstance(value, (bool, np.bool_)) or not isinstance(
            value, (int, float, np.integer, np.floating)
        ):
            raise self._wrong(name, "is no number", "write it as a number")
        number = float(value)
        if not math.isfinite(number):
            raise self._wrong(name, f"is {number}", "write it as a finite number")
        return number

    def integer(self, name: str) -> int:
        """A whole number.

        Raises:
            InputError: no single integer.
        """
        value = self._value(name)
        if not isinstance(value, (int, np.integer)) or isinstance(value, bool):
            raise self._wrong(name, "is no whole number", "write it as an integer")
        return int(value)

    def text(self, name: str) -> str:
        """A text; empty when there is none. Bytes that are not UTF-8 become `\ufffd`.

        Raises:
            InputError: something other than one text.
        """
        if not self.has(name):
            return ""
        value = self._value(name)
        if isinstance(value, bytes):
            value = value.decode("utf-8", "replace")
        if not isinstance(value, str):
            raise self._wrong(name, "is no text", "write it as one string")
        return value.encode("utf-8", "replace").decode("utf-8").rstrip("\0")

    def _value(self, name: str) -> Any:
        attribute = h5py.h5a.open(self._id, name.encode())
        space = attribute.get_space()
        count = space.get_simple_extent_npoints()
        if space.get_simple_extent_type() == h5py.h5s.NULL or count != 1:
            raise self._wrong(name, "is not one value", "write a single value")
        if attribute.get_storage_size() > _LARGEST_ATTRIBUTE_BYTES:
            raise self._wrong(name, "is too long", "keep it under 4 MiB")
        kind = attribute.get_type().get_class()
        if kind not in (h5py.h5t.INTEGER, h5py.h5t.FLOAT, h5py.h5t.STRING):
            raise self._wrong(name, "is neither number nor text", "write a number or a string")
        # The package above gives str for text and numpy scalars for numbers.
        value = h5py.AttributeManager(_Owner(self._id))[name]
        if isinstance(value, np.ndarray):
            value = value.reshape(-1)[0]
        return value

    def _wrong(self, name: str, wrong: str, mend: str) -> Exception:
        return file_error(self._path, f"{self._where}{one_line(name)} {wrong}", mend)


class _Owner:
    """All that h5py's attribute manager asks of the object it belongs to."""

    def __init__(self, identifier: Any) -> None:
        self.id = identifier
