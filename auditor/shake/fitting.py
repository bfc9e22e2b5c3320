"""One photographer's hand and one body's real stops, from frames kept and rejected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, roots_hermitenorm

from auditor.constants import RAYLEIGH_MEDIAN, REFERENCE_TIME_S
from auditor.optics.arrays import FloatArray, floats
from auditor.shake.estimates import Estimate, HandFit, HandPrior
from auditor.shake.mixtures import mixture_quantiles, weighted_quantiles
from auditor.shake.trials import Cells, Trials, burst_weights, residual_correlation, to_cells

__all__ = ["fit_hand"]

_NODES, _NODE_WEIGHTS = roots_hermitenorm(9)
_NODE_WEIGHTS = _NODE_WEIGHTS / _NODE_WEIGHTS.sum()
_LN2 = float(np.log(2.0))
_GRID = 17  # points along H and along S, twice: over the prior, then over what is left of it
_NEWTON_STEPS = 12


@dataclass(frozen=True)
class _Grid:
    """Points of (H, S), shape (points,), the best (ln a, ln s, logit q) at each, its covariance, and its weight."""

    exponent: FloatArray
    stops: FloatArray
    inner: FloatArray
    covariance: FloatArray
    log_weight: FloatArray

    @property
    def weight(self) -> FloatArray:
        return floats(np.exp(self.log_weight - self.log_weight.max()))


def _log_residual(cells: Cells, exponent: FloatArray, stops: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Logarithm of r and the floor's share of r², shape (points, cells); 0 and 0 where the stabiliser was off."""
    off = np.isnan(cells.error)
    floor = 2.0 ** (-2.0 * exponent * stops)[:, np.newaxis]
    square = np.where(off, 1.0, cells.error**2 + floor)
    return floats(0.5 * np.log(square)), floats(np.where(off, 0.0, floor / square))


def _sharp(hardness: FloatArray, spread: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """P(sharp), its slope over hardness, and over ln of the spread."""
    chance, slope, over_spread = (np.zeros_like(hardness) for _ in range(3))
    width = 2.0 * _LN2 * spread[:, np.newaxis]
    for node, weight in zip(_NODES, _NODE_WEIGHTS, strict=True):
        shifted = np.clip(hardness - width * node, -60.0, 6.0)
        growth = np.exp(shifted)
        blurred = np.exp(-growth)
        chance += weight * (1.0 - blurred)
        slope += weight * growth * blurred
        over_spread -= weight * growth * blurred * width * node
    return chance, slope, over_spread


def _expected(cells: Cells, exponent: FloatArray, stops: FloatArray, inner: FloatArray) -> tuple[FloatArray, ...]:
    log_residual, _ = _log_residual(cells, exponent, stops)
    turn = inner[:, 0][:, np.newaxis] + exponent[:, np.newaxis] * cells.log_time
    hardness = -_LN2 - 2.0 * (turn + cells.log_scale + log_residual)
    other = expit(inner[:, 2])[:, np.newaxis]
    chance, slope, over_spread = _sharp(hardness, np.exp(inner[:, 1]))
    return other * chance, other * slope, other * over_spread, other * (1.0 - other) * chance


def _prior_of_inner(
    prior: HandPrior, exponent: FloatArray, tolerance_over_length: float
) -> tuple[FloatArray, FloatArray]:
    """Mean and deviation of (ln a, ln s, logit q) at each H, shape (points, 3)."""
    log_shake = np.log(tolerance_over_length / RAYLEIGH_MEDIAN) - exponent * np.log(1.0 / 50.0 / REFERENCE_TIME_S)
    rest = np.ones_like(exponent)
    mean = np.column_stack([log_shake, np.log(prior.spread_stops) * rest, prior.other_logit * rest])
    deviation = np.column_stack(
        [prior.rule_deviation * _LN2 * exponent, np.log(prior.spread_factor) * rest, prior.other_deviation * rest]
    )
    return mean, deviation


def _log_likelihood(cells: Cells, chance: FloatArray) -> FloatArray:
    inside = np.clip(chance, 1e-9, 1.0 - 1e-9)
    return floats(np.log(inside) @ cells.kept + np.log1p(-inside) @ (cells.judged - cells.kept))


def _information(cells: Cells, chance: FloatArray, slopes: FloatArray) -> FloatArray:
    """Fisher information, shape (points, k, k); slopes have shape (k, points, cells)."""
    inside = np.clip(chance, 1e-9, 1.0 - 1e-9)
    return floats(np.einsum("apc,bpc,pc->pab", slopes, slopes, cells.judged / (inside * (1.0 - inside)), optimize=True))


def _fit_grid(cells: Cells, exponent: FloatArray, stops: FloatArray, prior: HandPrior, reference: float) -> _Grid:
    mean, deviation = _prior_of_inner(prior, exponent, reference)
    precision = np.einsum("pk,kl->pkl", deviation**-2.0, np.eye(3))
    inner = mean.copy()
    for _ in range(_NEWTON_STEPS):
        chance, over_h, over_spread, over_other = _expected(cells, exponent, stops, inner)
        slopes = np.stack([-2.0 * over_h, over_spread, over_other])
        inside = np.clip(chance, 1e-9, 1.0 - 1e-9)
        pull = (cells.kept - cells.judged * inside) / (inside * (1.0 - inside))
        gradient = np.einsum("kpc,pc->pk", slopes, pull) - (inner - mean) / deviation**2
        step = np.linalg.solve(_information(cells, chance, slopes) + precision, gradient[..., np.newaxis])[..., 0]
        # Half a unit a step: the scoring overshoots from a start far off, and every unknown is on a log scale.
        inner = inner + np.clip(step, -0.5, 0.5)
        if float(np.abs(step).max()) < 1e-5:
            break
    chance, over_h, over_spread, over_other = _expected(cells, exponent, stops, inner)
    information = _information(cells, chance, np.stack([-2.0 * over_h, over_spread, over_other])) + precision
    log_prior = -0.5 * (((inner - mean) / deviation) ** 2).sum(axis=1) - np.log(deviation).sum(axis=1)
    log_prior -= 0.5 * ((exponent - prior.exponent) / prior.exponent_deviation) ** 2
    log_prior -= 0.5 * ((stops - prior.stops) / prior.stops_deviation) ** 2
    _, log_determinant = np.linalg.slogdet(information)
    log_weight = _log_likelihood(cells, chance) + log_prior - 0.5 * log_determinant
    return _Grid(exponent, stops, inner, floats(np.linalg.inv(information)), floats(log_weight))


def _axes(grid: _Grid | None, prior: HandPrior, *, has_stabilised: bool) -> tuple[FloatArray, FloatArray]:
    if grid is None:
        exponents = np.linspace(0.5, 1.0, _GRID + 1)[1:]
        low = max(0.0, prior.stops - 4.0 * prior.stops_deviation)
        stops = np.linspace(low, prior.stops + 4.0 * prior.stops_deviation, _GRID)
    else:
        exponents, stops = (_narrowed(axis, grid.weight) for axis in (grid.exponent, grid.stops))
    return exponents, stops if has_stabilised else np.array([prior.stops])


def _narrowed(axis: FloatArray, weight: FloatArray) -> FloatArray:
    """Cover again, more finely, where the weight is."""
    values = np.unique(axis)
    if values.size == 1:
        return values
    step = values[1] - values[0]
    held = np.array([weight[axis == value].sum() for value in values])
    inside = values[held > 1e-4 * held.max()]
    return np.linspace(
        max(values[0], inside[0] - step / 2.0), min(values[-1], inside[-1] + step / 2.0), _GRID, dtype=np.float64
    )


def _posterior(cells: Cells, prior: HandPrior, reference: float, *, has_stabilised: bool) -> _Grid:
    grid: _Grid | None = None
    for _ in range(2):
        exponents, stops = _axes(grid, prior, has_stabilised=has_stabilised)
        points = np.meshgrid(exponents, stops, indexing="ij")
        grid = _fit_grid(cells, points[0].ravel(), points[1].ravel(), prior, reference)
    assert grid is not None  # noqa: S101  (two rounds were made)
    return grid


def _data_deviations(cells: Cells, grid: _Grid, prior: HandPrior) -> FloatArray:
    """
    Deviations of (ln a, H, S, ln a - H S ln 2, ln s) that the frames alone allow, at the best point.

    The prior stays on what is a nuisance to the one asked for: on the spread and on other reasons to reject; for the
    spread itself on all the others.
    """
    best = int(np.argmax(grid.log_weight))
    exponent, stops = grid.exponent[best : best + 1], grid.stops[best : best + 1]
    chance, over_h, over_spread, over_other = _expected(cells, exponent, stops, grid.inner[best : best + 1])
    _, floor_share = _log_residual(cells, exponent, stops)
    over_exponent = -2.0 * over_h * (cells.log_time - stops * _LN2 * floor_share)
    over_stops = 2.0 * over_h * exponent * _LN2 * floor_share
    slopes = np.stack([-2.0 * over_h, over_exponent, over_stops, over_spread, over_other])
    alone = _information(cells, chance, slopes)[0]
    spread, other = np.log(prior.spread_factor) ** -2, prior.other_deviation**-2
    covariance = np.linalg.inv(alone + np.diag([1e-8, 1e-8, 1e-8, spread, other]))
    believed = [(prior.rule_deviation * _LN2 * float(exponent[0])) ** -2, prior.exponent_deviation**-2]
    of_spread = np.linalg.inv(alone + np.diag([*believed, prior.stops_deviation**-2, 1e-8, other]))[3, 3]
    together = np.array([1.0, -float(stops[0]) * _LN2, -float(exponent[0]) * _LN2, 0.0, 0.0])
    variances = [*np.diagonal(covariance)[:3], together @ covariance @ together, of_spread]
    return floats(np.sqrt(np.maximum(variances, 0.0)))


def _estimates(grid: _Grid, told: dict[str, bool], confidence: float) -> dict[str, Estimate]:
    wanted = [0.5, (1.0 - confidence) / 2.0, (1.0 + confidence) / 2.0]
    weight = grid.weight
    deviation = np.sqrt(np.diagonal(grid.covariance, axis1=1, axis2=2))
    found: dict[str, FloatArray] = {}
    for name, axis in (("exponent", grid.exponent), ("stops", grid.stops)):
        values = np.unique(axis)
        held = np.array([weight[axis == value].sum() for value in values])
        step = float(values[1] - values[0]) if values.size > 1 else 0.0
        found[name] = np.clip(weighted_quantiles(values, held, wanted, step=step), values[0], values[-1])
    left = grid.inner[:, 0] - grid.exponent * grid.stops * _LN2
    found["shake_mrad"] = np.exp(mixture_quantiles(grid.inner[:, 0], deviation[:, 0], weight, wanted))
    found["stabilised_mrad"] = np.exp(mixture_quantiles(left, deviation[:, 0], weight, wanted))
    found["spread_stops"] = np.exp(mixture_quantiles(grid.inner[:, 1], deviation[:, 1], weight, wanted))
    found["other_keep"] = expit(mixture_quantiles(grid.inner[:, 2], deviation[:, 2], weight, wanted))
    return {
        name: Estimate(float(value), float(low), float(high), told.get(name, True))
        for name, (value, low, high) in found.items()
    }


def _expected_of_frames(cells: Cells, grid: _Grid) -> tuple[FloatArray, FloatArray]:
    """Probability of each frame at the best point, and its slope over the hand."""
    best = int(np.argmax(grid.log_weight))
    chance, slope, _, _ = _expected(
        cells, grid.exponent[best : best + 1], grid.stops[best : best + 1], grid.inner[best : best + 1]
    )
    return floats(chance[0][cells.of_frame]), floats(slope[0][cells.of_frame])


def fit_hand(trials: Trials, prior: HandPrior, *, confidence: float = 0.9) -> HandFit:
    """
    Fit a hand's shake and a body's stops to frames kept and rejected.

    Parameters
    ----------
    trials : Trials
        Judged frames of one body, hand-held, of still subjects.
    prior : HandPrior
        What is believed before; its stops are those rated less one. [stop]
    confidence : float
        Of the intervals. [-]

    Returns
    -------
    HandFit
        Medians and equal-tailed intervals [mrad, -, stop], with what the data cannot tell.

    Raises
    ------
    ValueError
        For fewer than 20 frames, where all or none were kept, or where a time, length or tolerance is not known.

    Notes
    -----
    P(kept) = q · P(B ≤ c), B as in `auditor.shake.hand`. The posterior is computed on a grid of H and S with the other
    three integrated at each point by Laplace's method. Frames of a burst are weighted by the design effect of the
    correlation that their residuals show. Only c/a is in the data, so a holds for the tolerance assumed. A value counts
    as told when the frames alone fix it at least as well as the prior does: with every frame stabilised and set right,
    a and S are known only together. Valid within about a decade of shutter times, where one H holds.

    References
    ----------
    .. [1] H. Rue, S. Martino and N. Chopin, J. R. Stat. Soc. B 71 (2009) 319-392, for the nested integration (from
       memory); the priors are judgement.

    Examples
    --------
    >>> from auditor.shake.estimates import HandPrior
    >>> from auditor.shake.trials import Trials
    >>> rng = np.random.default_rng(1)
    >>> time = rng.choice([1 / 125, 1 / 60, 1 / 30, 1 / 15], 200)
    >>> blur = rng.rayleigh(50 * 0.3 * (time * 60) ** 0.8)
    >>> off = np.full(200, np.nan)
    >>> trials = Trials(time, np.full(200, 50.0), np.full(200, 14.4), off, blur < 14.4, np.arange(200))
    >>> fit = fit_hand(trials, HandPrior(crop=2.0))
    >>> fit.shake_mrad.low < 0.3 < fit.shake_mrad.high, fit.stops.told
    (True, False)
    """
    share = float(trials.kept.mean()) if trials.count else 0.0
    if trials.count < 20 or not 0.0 < share < 1.0:
        raise ValueError("a fit needs 20 judged frames or more, some kept and some rejected")
    if not np.isfinite(trials.exposure_time_s * trials.right_mm * trials.tolerance_um).all():
        raise ValueError("a fit needs the exposure time, the length and the tolerance of every frame")
    on = ~np.isnan(trials.setting_error)
    reference = float(np.median(trials.tolerance_um)) / (50.0 / prior.crop)
    has_stabilised = bool(on.any())
    cells = to_cells(trials)
    grid = _posterior(cells, prior, reference, has_stabilised=has_stabilised)
    correlation = residual_correlation(trials.burst, trials.kept, *_expected_of_frames(cells, grid))
    weights = burst_weights(trials.burst, correlation)
    if correlation > 0.0:
        cells = to_cells(trials, weights)
        grid = _posterior(cells, prior, reference, has_stabilised=has_stabilised)
    told = _told(cells, grid, prior, has_stabilised=has_stabilised)
    return HandFit(
        **_estimates(grid, told, confidence),
        frames=trials.count,
        stabilised=int(on.sum()),
        off=int((~on).sum()),
        burst_correlation=correlation,
        effective_frames=float(weights.sum()),
        confidence=confidence,
    )


def _told(cells: Cells, grid: _Grid, prior: HandPrior, *, has_stabilised: bool) -> dict[str, bool]:
    alone = _data_deviations(cells, grid, prior)
    exponent = float(grid.exponent[int(np.argmax(grid.log_weight))])
    rule = prior.rule_deviation * _LN2 * exponent
    together = float(np.hypot(rule, prior.stops_deviation * _LN2 * exponent))
    limits = [rule, prior.exponent_deviation, prior.stops_deviation, together, np.log(prior.spread_factor)]
    shake, slope, stops, left, spread = (bool(got <= limit) for got, limit in zip(alone, limits, strict=True))
    return {
        "shake_mrad": shake,
        "exponent": slope,
        "stops": stops and has_stabilised,
        "stabilised_mrad": left and has_stabilised,
        "spread_stops": spread,
        "other_keep": True,
    }
