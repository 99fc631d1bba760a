"""A sheet as a grid of small cells: what is taken, and where a shape still fits.

Shapes are irregular (a tree with its pockets), so fitting is tested cell by cell, for every
position at once, by correlation (FFT): O(n log n) for n cells. Among the positions that fit, the
one that touches most of what already stands there is best (touching-perimeter rule of Lodi,
Martello and Vigo 1999, for irregular shapes).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from render.paper.ink import Box

CELL = 1.5
Mask = npt.NDArray[np.bool_]
_Field = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place for a shape: its top left corner in mm and the share of its rim that touches."""

    x: float
    y: float
    touch: float


class Plot:
    """The printable area of a sheet; grows fuller as shapes are set on it."""

    def __init__(self, width: float, height: float) -> None:
        self.cols, self.rows = int(width // CELL), int(height // CELL)
        self.taken: Mask = np.zeros((self.rows, self.cols), dtype=bool)
        self._spectra: tuple[npt.NDArray[np.complex128], npt.NDArray[np.complex128]] | None = None

    def copy(self) -> Plot:
        """An independent copy."""
        other = Plot(self.cols * CELL, self.rows * CELL)
        other.taken = self.taken.copy()
        return other

    @property
    def free(self) -> float:
        """Area in mm² that nothing has taken yet."""
        return float((~self.taken).sum()) * CELL * CELL

    def set(self, mask: Mask, x: float, y: float) -> None:
        """Take the cells of `mask` at (x, y)."""
        row, col = round(y / CELL), round(x / CELL)
        rows, cols = mask.shape
        self.taken[row : row + rows, col : col + cols] |= mask
        self._spectra = None

    def fits_at(self, mask: Mask, x: float, y: float) -> bool:
        """Whether `mask` is free at (x, y) and inside."""
        row, col = round(y / CELL), round(x / CELL)
        rows, cols = mask.shape
        if row + rows > self.rows or col + cols > self.cols:
            return False
        return not bool((self.taken[row : row + rows, col : col + cols] & mask).any())

    def best_spot(self, mask: Mask, pull: tuple[float, float] = (0.0, 0.0)) -> Spot | None:
        """The free position that touches most; `pull` prefers far right (x) or far down (y)."""
        rows, cols = mask.shape
        if rows > self.rows or cols > self.cols:
            return None
        shape = (self.rows + 2, self.cols + 2)
        hits, rims = self._correlated(mask, shape)
        free = hits[1 : self.rows - rows + 2, 1 : self.cols - cols + 2] < 0.5
        if not free.any():
            return None
        touch = rims[1 : self.rows - rows + 2, 1 : self.cols - cols + 2]
        down = np.linspace(0, 1, free.shape[0])[:, None] if free.shape[0] > 1 else np.zeros((1, 1))
        over = np.linspace(0, 1, free.shape[1])[None, :] if free.shape[1] > 1 else np.zeros((1, 1))
        score = np.where(free, touch + pull[0] * over + pull[1] * down, -np.inf)
        row, col = np.unravel_index(int(score.argmax()), score.shape)
        return Spot(float(col) * CELL, float(row) * CELL, float(touch[row, col]))

    def _correlated(self, mask: Mask, shape: tuple[int, int]) -> tuple[_Field, _Field]:
        if self._spectra is None:
            walled = np.ones((self.rows + 2, self.cols + 2))
            walled[1:-1, 1:-1] = self.taken
            solid = np.zeros((self.rows + 2, self.cols + 2))
            solid[1:-1, 1:-1] = self.taken
            self._spectra = (np.fft.rfft2(solid), np.fft.rfft2(walled))
        solid_spectrum, walled_spectrum = self._spectra
        rim = _rim(mask)
        padded = np.zeros(shape)
        padded[: mask.shape[0], : mask.shape[1]] = mask
        hits = np.fft.irfft2(solid_spectrum * np.conj(np.fft.rfft2(padded)), s=shape)
        ringed = np.zeros(shape)
        height, width = min(rim.shape[0], shape[0]), min(rim.shape[1], shape[1])
        ringed[:height, :width] = rim[:height, :width]
        rims = np.fft.irfft2(walled_spectrum * np.conj(np.fft.rfft2(ringed)), s=shape)
        # The rim's own corner stands one cell up and left of the mask's.
        rims = np.roll(rims, (1, 1), axis=(0, 1)) / max(1.0, float(rim.sum()))
        return hits, rims


def _rim(mask: Mask) -> Mask:
    grown = np.zeros((mask.shape[0] + 2, mask.shape[1] + 2), dtype=bool)
    for down in (0, 1, 2):
        for over in (0, 1, 2):
            grown[down : down + mask.shape[0], over : over + mask.shape[1]] |= mask
    grown[1:-1, 1:-1] &= ~mask
    return grown


def mask_of(boxes: Iterable[Box], clear: float) -> Mask:
    """The cells that boxes take with `clear` mm kept free at their right and below.

    Keeping clear on two sides only is enough, since every neighbour does the same; the sheet's
    margin serves at its top and left.
    """
    known = list(boxes)
    cols = max(math.ceil((b.right + clear) / CELL) for b in known)
    rows = max(math.ceil((b.bottom + clear) / CELL) for b in known)
    mask: Mask = np.zeros((rows, cols), dtype=bool)
    for box in known:
        top, left = max(0, math.floor(box.y / CELL)), max(0, math.floor(box.x / CELL))
        bottom, right = (
            math.ceil((box.bottom + clear) / CELL),
            math.ceil((box.right + clear) / CELL),
        )
        mask[top:bottom, left:right] = True
    return mask
