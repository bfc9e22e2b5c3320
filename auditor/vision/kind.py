"""
What blurred a frame: one rule fitted on photographs with known blur, which may also say that it cannot tell.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from auditor.vision.looks import Look

__all__ = ["ANSWER_FROM", "KINDS", "Decision", "Rule", "decide", "features", "rule"]

KINDS = ("sharp", "shake", "missed-focus")
"""What the rule tells apart."""

ANSWER_FROM = 0.70
"""Below this confidence nothing is said. [-]"""
