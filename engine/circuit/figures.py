"""What a meter or an eye makes of a waveform: mean, true-rms alternating part, beats, shimmer.

All from samples on an even grid of a tenth of a millisecond. The eye follows the mean over one
mains cycle: what that mean does is slow (swing, beats), what is left is shimmer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
GRID_SECONDS = 1e-4
"""The grid of samples, a hundredth of a 100 Hz ripple's period. Of the algorithm."""


def figures(time: Floats, wave: Floats, begin: float, end: float, hertz: float) -> dict[str, float]:
    """Figures of one wave between two times (seconds), by name.

    mean, rms and ac in the wave's own unit (`ac` is what an AC range that shuts out the direct part
    shows); top, the largest sample; high, low and sway of the mean over one mains cycle; swing, its
    fall over its height; beats, how often it rises through its middle; uneven, the spread of the
    times between (standard deviation over mean); ripple, the rest over the mean; size, |mean|.
    """
    grid = np.arange(begin, end, GRID_SECONDS)
    samples = np.interp(grid, time, wave)
    width = min(len(samples), max(1, round(1.0 / hertz / GRID_SECONDS)))
    slow = np.convolve(samples, np.full(width, 1.0 / width), mode="valid")
    fast = samples[width // 2 : width // 2 + len(slow)] - slow
    mean = float(samples.mean())
    high, low = float(slow.max()), float(slow.min())
    beats, uneven = _beats(slow, (high + low) / 2)
    return {
        "mean": mean,
        "size": abs(mean),
        "rms": float(np.sqrt((samples**2).mean())),
        "ac": float(samples.std()),
        "top": float(samples.max()),
        "high": high,
        "low": low,
        "sway": high - low,
        "swing": (high - low) / high if high > 0 else 0.0,
        "beats": beats,
        "uneven": uneven,
        "ripple": float(fast.std()) / mean if mean > 0 else 0.0,
    }


def _beats(slow: Floats, middle: float) -> tuple[float, float]:
    above = slow > middle
    rises = np.flatnonzero(above[1:] & ~above[:-1]) * GRID_SECONDS
    between = np.diff(rises)
    if len(between) < 2:
        return float(len(rises)), 0.0
    return float(len(rises)), float(between.std() / between.mean())
