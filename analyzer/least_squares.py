"""Bounded least squares on logarithms, each parameter weakly held to its start value.

Held so that a parameter the times say nothing about stays where it is, and is named
(docs/calibration.md).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.spread import WITHIN

STEP = 1e-3  # of the slopes, in logarithms: rounding is far below, curvature too [-]
LEAST_NOISE = 0.003  # a stop-watch by hand on a sheet of a few minutes [-]
LEAST_BAND = 0.02  # no sheet runs twice alike: clocks, warm-up, sensing tries; our own, a hunch [-]
TOLD = 0.7  # a parameter whose spread shrinks by less than this was not told by the times [-]
MOVED = 0.25  # of what it is held by: further is not near its start value [-]
TIED = 0.9  # correlation from which two parameters cannot be told apart [-]


@dataclass(frozen=True)
class Parameter:
    """Something to be fitted: key in [calibration], unit, start, bounds, and how weakly held."""

    key: str
    unit: str
    start: float
    low: float
    high: float
    spread: float  # standard deviation of its logarithm before any time was taken [-]


@dataclass(frozen=True)
class Fitted:
    """One parameter after the fit.

    Attributes
    ----------
    parameter : Parameter
        What was fitted.
    value : float
        In its unit.
    spread : float
        19 of 20 lie within this share of the value. [-]
    told : bool
        False where the times say next to nothing about it, or scatter too much to tell it.
    at_bound : bool
        True where the fit ran against what can be meant.
    """

    parameter: Parameter
    value: float
    spread: float
    told: bool
    at_bound: bool

    @property
    def moved(self) -> bool:
        """Whether the fit took it well away from its start value."""
        return abs(math.log(self.value / self.parameter.start)) > MOVED * self.parameter.spread


@dataclass(frozen=True)
class Residual:
    """One time: measured, and reckoned before and after. [min]"""

    line: int
    file: str
    gas: str
    measured: float
    before: float
    after: float


@dataclass(frozen=True, eq=False)
class Fit:
    """One fit: machine times, or hand work.

    Attributes
    ----------
    fitted : tuple of Fitted
        The parameters.
    residuals : tuple of Residual
        Every time.
    before, after : float
        Root mean square of reckoned over measured - 1. [-]
    residual : float
        How far a time not used in the fit may be off, 19 of 20: each row predicted
        without itself. [-]
    covariance : ndarray, shape (p, p)
        Of the logarithms of the parameters.
    tied : tuple of (str, str)
        Pairs the times cannot tell apart.
    """

    fitted: tuple[Fitted, ...]
    residuals: tuple[Residual, ...]
    before: float
    after: float
    residual: float
    covariance: Floats
    tied: tuple[tuple[str, str], ...]

    @property
    def furthest(self) -> Residual:
        """The time that is furthest off after the fit."""
        return max(self.residuals, key=lambda row: abs(math.log(row.after / row.measured)))

    def value(self, key: str, otherwise: float) -> float:
        """Return the fitted parameter called `key`, `otherwise` where it was not fitted."""
        return next((one.value for one in self.fitted if one.parameter.key == key), otherwise)


def fitted_to(
    rows: Sequence[tuple[int, str, str]],
    parameters: Sequence[Parameter],
    reckon: Callable[[Floats], Floats],
    measured: Floats,
    noise: float,
) -> Fit:
    """Return the parameters that fit the measured minutes best.

    Parameters
    ----------
    rows : sequence of (line, file, gas)
        What each time is of.
    parameters : sequence of Parameter
        What may change.
    reckon : callable
        Minutes of every row from the values of the parameters.
    measured : ndarray, shape (n,)
        What the stop-watch said. [min]
    noise : float
        What a time may be off by chance at most, as a share; less where the fit shows it. [-]
    """
    from scipy.optimize import least_squares

    start = np.log([p.start for p in parameters])
    held = np.array([p.spread for p in parameters])
    bounds = np.log([p.low for p in parameters]), np.log([p.high for p in parameters])

    def faults(logs: Floats) -> Floats:
        off = np.log(reckon(np.exp(logs)) / measured) / noise
        return np.concatenate((off, (logs - start) / held))

    def slopes(logs: Floats) -> Floats:
        here = faults(logs)
        ways = STEP * np.eye(len(logs))
        return np.column_stack([(faults(logs + way) - here) / STEP for way in ways])

    count, logs = len(measured), start
    for _ in range(2):  # again with the noise the times really have
        found: Any = least_squares(faults, logs, jac=slopes, bounds=bounds, x_scale=held)
        logs = found.x
        noise = _noise(noise * faults(logs)[:count], len(parameters), noise)
    missed, slope = faults(logs), slopes(logs)
    covariance: Floats = np.asarray(np.linalg.inv(slope.T @ slope), dtype=np.float64)
    ahead = _without_itself(slope, missed, count, noise)
    # noise larger than taken widens what is said of the parameters
    louder = max(1.0, _rms(missed[:count]))
    spread: Floats = np.asarray(np.sqrt(np.diag(covariance)), dtype=float)
    before, after = reckon(np.exp(start)), reckon(np.exp(logs))
    fitted = tuple(
        Fitted(
            p, float(np.exp(log)), math.expm1(WITHIN * louder * float(sd)),
            bool(louder * sd < TOLD * p.spread), bool(min(log - low, high - log) < 1e-3),
        )
        for p, log, sd, low, high in zip(parameters, logs, spread, *bounds, strict=True)
    )  # fmt: skip
    return Fit(
        fitted=fitted,
        residuals=tuple(
            Residual(*row, *map(float, minutes))
            for row, *minutes in zip(rows, measured, before, after, strict=True)
        ),
        before=_rms(before / measured - 1.0),
        after=_rms(after / measured - 1.0),
        residual=_band(ahead),
        covariance=covariance * louder**2,
        tied=_tied(covariance, fitted),
    )


def _band(ahead: Floats) -> float:
    """Return how far a new time may be off, 19 of 20, from how far each was missed.

    By Student's t, as few times tell little of their scatter; never less than a watch and a
    machine repeat.
    """
    from scipy.stats import t

    factor = float(t.ppf(0.975, max(len(ahead) - 1, 1)))
    return max(math.expm1(factor * _rms(ahead)), LEAST_BAND)


def _noise(off: Floats, parameters: int, most: float) -> float:
    """Return the noise the residuals show, where there are more times than parameters."""
    if len(off) <= parameters:
        return most
    shown = _rms(off) * math.sqrt(len(off) / (len(off) - parameters))
    return min(most, max(shown, LEAST_NOISE))


def _without_itself(jacobian: Floats, faults: Floats, count: int, noise: float) -> Floats:
    """Return the logarithm each time is missed by when it is left out of the fit.

    The leave-one-out residual of linear least squares is r / (1 - h), h the leverage.
    """
    inverse = np.linalg.inv(jacobian.T @ jacobian)
    leverage = np.einsum("ij,jk,ik->i", jacobian[:count], inverse, jacobian[:count])
    missed: Floats = noise * faults[:count] / np.maximum(1.0 - leverage, 0.02)
    return missed


def _tied(covariance: Floats, fitted: Sequence[Fitted]) -> tuple[tuple[str, str], ...]:
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    keys = [one.parameter.key for one in fitted]
    return tuple(
        (keys[i], keys[j])
        for i in range(len(keys))
        for j in range(i + 1, len(keys))
        if abs(correlation[i, j]) > TIED
    )


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(np.square(values))))
