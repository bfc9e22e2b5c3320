"""What a fit of a hand starts from, and what it gives."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Estimate", "HandFit", "HandPrior"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """
    A fitted value.

    Attributes
    ----------
    value, low, high : float
        Median and ends of the interval, in the unit of the quantity.
    told : bool
        The data weigh at least as much as the prior; False: it is mainly the prior repeated.
    """

    value: float
    low: float
    high: float
    told: bool


@dataclass(frozen=True, slots=True)
class HandPrior:
    """
    What is believed before any frame: judgement, since no published spread between people was found.

    Attributes
    ----------
    stops, stops_deviation : float
        Rated stops less one, ±1: laboratory against life. [stop]
    crop : float
        Crop factor of the body.
    rule_deviation : float
        How far the 50 % shutter time lies from 1/(f × crop), standard deviation. [stop]
    exponent, exponent_deviation : float
        H, cut to 0.5-1. [-]
    spread_stops, spread_factor : float
        Steadiness from frame to frame, ×/÷. [stop, -]
    other_logit, other_deviation : float
        Share of sharp frames that is kept, on the logit scale: 0.82, from 0.4 to 0.97. [-]
    """

    stops: float = 4.0
    stops_deviation: float = 1.0
    crop: float = 1.0
    rule_deviation: float = 1.2
    exponent: float = 0.8
    exponent_deviation: float = 0.15
    spread_stops: float = 0.5
    spread_factor: float = 1.5
    other_logit: float = 1.5
    other_deviation: float = 1.2


@dataclass(frozen=True, slots=True)
class HandFit:
    """
    What the frames tell of a hand.

    Attributes
    ----------
    shake_mrad : Estimate
        Per axis at 1/60 s, for the tolerated blur that was assumed: choosier and shakier look alike. [mrad]
    exponent, spread_stops, stops : Estimate
        H [-], spread [stop], the stabiliser's stops at the right setting [stop].
    stabilised_mrad : Estimate
        a·2^(-H S): shake left at 1/60 s with the stabiliser on and set right. [mrad]
    other_keep : Estimate
        Share of sharp frames that is kept. [-]
    frames, stabilised, off : int
        Frames used. [frames]
    burst_correlation : float
        How alike frames of one burst are. [-]
    effective_frames : float
        Independent frames they are worth. [frames]
    confidence : float
        Of the intervals. [-]
    """

    shake_mrad: Estimate
    exponent: Estimate
    spread_stops: Estimate
    stops: Estimate
    stabilised_mrad: Estimate
    other_keep: Estimate
    frames: int
    stabilised: int
    off: int
    burst_correlation: float
    effective_frames: float
    confidence: float
