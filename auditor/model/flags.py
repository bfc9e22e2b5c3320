"""Flags: what makes a frame worth a look, worst first, each with a sentence for the screen."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CAUSES", "FLAGS", "Flag", "cause_sentence", "flag_sentence"]


@dataclass(frozen=True)
class Flag:
    """A flag's name in the table, its words on a screen, and why it matters."""

    name: str
    words: str
    reason: str


FLAGS: tuple[Flag, ...] = (
    Flag("worse-than-off", "Worse than off", "The setting is so far too long that the picture is steadier without it."),
    Flag("setting-too-long", "Setting too long", "The stabiliser moves the picture further than the shake did."),
    Flag("setting-too-short", "Setting too short", "The stabiliser corrects only part of the shake."),
    Flag("shake-likely", "Shake likely", "At this exposure time the shake probably passes the tolerated blur."),
    Flag("stabiliser-on-tripod", "Stabiliser on, on a tripod", "On a still support a stabiliser can add drift."),
    Flag("pairing-contradicted", "Sources disagree on the lens", "The log, the recorded name or the setting differ."),
    Flag(
        "lens-on-two-bodies",
        "Lens on two bodies",
        "At this time it is on another body too: a clock or a log row is off.",
    ),
    Flag("pairing-unknown", "Lens not known", "Nothing recorded tells which lens made this frame."),
    Flag("translation-counts", "Very close", "Above a magnification of 0.3 shift matters as much as rotation."),
    Flag("time-impossible", "No usable time", "Without a time the frame cannot be joined with the log or a trip."),
    Flag("unreadable", "Not readable", "The file is damaged or of a kind that is not read."),
)
"""Every flag there is, worst first."""

CAUSES: dict[str, str] = {
    "carried-over": "it is what the pairing before needed",
    "adapter-factor-left-out": "it is the lens's own focal length, without the adapter's factor",
    "equivalent-entered": "it is the focal length's equivalent on 24×36 mm",
    "long-end-of-zoom": "it is the zoom's long end",
    "digit-slip": "it looks like a slip of a digit",
    "unexplained": "no usual slip explains it",
}
"""Causes of a wrong setting, in words that follow 'The setting is wrong; '."""


def flag_sentence(name: str) -> str:
    """
    Return a flag's reason.

    Examples
    --------
    >>> flag_sentence("setting-too-short")
    'The stabiliser corrects only part of the shake.'
    """
    return next(flag.reason for flag in FLAGS if flag.name == name)


def cause_sentence(cause: str | None) -> str:
    """
    Return a cause in words, empty where there is none.

    Examples
    --------
    >>> cause_sentence("carried-over")
    'it is what the pairing before needed'
    """
    return CAUSES.get(cause or "", "")
