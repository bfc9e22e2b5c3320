"""
The sample library: a made-up archive of real picture files, with the answers.

Everything in it is invented: the photographer, her lenses, the places, and every number about them. The README
beside this file tells the story and says why each special file is there.
"""

from __future__ import annotations

from sample_library.layout import SampleLibrary, generate

__all__ = ["SampleLibrary", "generate"]
