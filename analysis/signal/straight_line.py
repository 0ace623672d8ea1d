"""Least-squares straight line, with how sure its coefficients are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class StraightLine:
    """`y ≈ intercept + slope · x`.

    `slope_sd` and `intercept_sd` are the standard deviations of the coefficients, `residual_sd`
    that of the residuals (n - 2 degrees of freedom); all three are `None` with two points, which
    any line fits. `largest_residual` is the residual of largest size, with its sign.
    `r_squared` is the share of the variance of y that the line explains, `None` when y is constant.
    `mean_x` and `mean_y` are the point that the line turns about.
    """

    intercept: float
    slope: float
    intercept_sd: float | None
    slope_sd: float | None
    residual_sd: float | None
    largest_residual: float
    r_squared: float | None
    mean_x: float
    mean_y: float
    count: int

    def at(self, x: Floats) -> Floats:
        """Values of the line, any shape."""
        # From the middle of the data: the intercept may lie far outside and have fewer digits.
        values: Floats = self.mean_y + self.slope * (x - self.mean_x)
        return values

    def residuals(self, x: Floats, y: Floats) -> Floats:
        """`y` less the line, any shape."""
        left: Floats = y - self.at(x)
        return left


def fit_straight_line(x: Floats, y: Floats) -> StraightLine:
    """Ordinary least squares of y on x, both in units of one's own.

    All the error is taken to be in y, and to be the same at every point.

    Args:
        x: abscissae, shape (n,), n >= 2, finite, not all the same.
        y: ordinates, shape (n,), finite.

    Raises:
        ValueError: when shapes differ, values are not finite, or the points leave the slope open.

    Source: any textbook, e.g. Draper & Smith, *Applied Regression Analysis*, chapter 1; held
    against the certified values of NIST StRD in the tests.
    """
    if x.ndim != 1 or x.shape != y.shape:
        raise ValueError("a straight line needs as many x as y, in one row each")
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueError("a straight line needs finite points")
    count = len(x)
    if count < 2 or np.ptp(x) == 0.0:
        raise ValueError("a straight line needs two different x at least")
    # Centred, so that squares lose no digits to a mean far from zero.
    mean_x, mean_y = float(np.mean(x)), float(np.mean(y))
    dx, dy = x - mean_x, y - mean_y
    sum_xx = float(dx @ dx)
    sum_yy = float(dy @ dy)
    slope = float(dx @ dy) / sum_xx
    left = dy - slope * dx
    squares = float(left @ left)
    residual_sd = math.sqrt(squares / (count - 2)) if count > 2 else None
    slope_sd = intercept_sd = None
    if residual_sd is not None:
        slope_sd = residual_sd / math.sqrt(sum_xx)
        intercept_sd = residual_sd * math.sqrt(1.0 / count + mean_x**2 / sum_xx)
    return StraightLine(
        intercept=mean_y - slope * mean_x,
        slope=slope,
        intercept_sd=intercept_sd,
        slope_sd=slope_sd,
        residual_sd=residual_sd,
        largest_residual=float(left[np.argmax(np.abs(left))]),
        r_squared=1.0 - squares / sum_yy if sum_yy > 0.0 else None,
        mean_x=mean_x,
        mean_y=mean_y,
        count=count,
    )
