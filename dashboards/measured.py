"""What the pixels said, beside the desk's frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pyarrow as pa

from auditor.model.tables import KEY

__all__ = ["MEASURED", "Sharpest", "measures_beside", "sharpest_of_scene"]

MEASURED = (*KEY, "blur_kind", "blur_confidence", "shake_length_px", "edge_width_px", "scene", "sharpness_in_scene")
"""Columns of store/measures that the pages use."""


@dataclass(frozen=True)
class Sharpest:
    """The sharpest other frame of a scene: its place on the desk, and how many frames the scene has."""

    place: int
    frames: int


def measures_beside(frames: pa.Table, measures: pa.Table) -> pd.DataFrame:
    """
    Return the measures of the frames, in the frames' order; empty values where a frame was not measured.

    Parameters
    ----------
    frames : pyarrow.Table
        With the key.
    measures : pyarrow.Table
        Columns ``MEASURED``.

    Returns
    -------
    pandas.DataFrame
        Columns of ``MEASURED`` without the key, one row a frame; no column where nothing was measured at all.
    """
    if measures.num_rows == 0:
        return pd.DataFrame(index=range(frames.num_rows))
    order = frames.select(list(KEY)).append_column("row", pa.array(np.arange(frames.num_rows)))
    beside = order.join(measures, keys=list(KEY), join_type="left outer").sort_by("row")
    measured: pd.DataFrame = beside.drop_columns([*KEY, "row"]).to_pandas(strings_to_categorical=True)
    return measured


def sharpest_of_scene(measures: pd.DataFrame, place: int) -> Sharpest | None:
    """
    Return the sharpest other frame of a frame's scene, None where it is alone or was not measured.

    Sharpness is compared within the scene only: across scenes it would compare motifs, not frames.
    """
    if "scene" not in measures or pd.isna(measures["scene"].iloc[place]):
        return None
    codes = measures["scene"].cat.codes.to_numpy()
    scene = np.flatnonzero(codes == codes[place])
    others = scene[scene != place]
    sharpness = measures["sharpness_in_scene"].to_numpy(dtype=float)[others]
    if not np.isfinite(sharpness).any():
        return None
    return Sharpest(place=int(others[np.nanargmax(sharpness)]), frames=len(scene))
