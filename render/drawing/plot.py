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
from typing import Any

import numpy as np
import numpy.typing as npt

from render.drawing.ink import Box

Mask = npt.NDArray[np.bool_]
_Field = npt.NDArray[np.floating[Any]]
_Spectrum = npt.NDArray[np.complexfloating[Any, Any]]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place for a shape: its top left corner in mm and the share of its rim that touches."""

    x: float
    y: float
    touch: float


class Plot:
    """The printable area of a sheet in cells of `cell` mm; grows fuller as shapes are set on it."""

    def __init__(self, width: float, height: float, cell: float) -> None:
        self.cell = cell
        self.cols, self.rows = int(width // cell), int(height // cell)
        self.taken: Mask = np.zeros((self.rows, self.cols), dtype=bool)
        self._spectra: tuple[_Spectrum, _Spectrum] | None = None
        self._sums: npt.NDArray[np.int64] | None = None

    @property
    def free(self) -> float:
        """Area in mm² that nothing has taken yet."""
        return float((~self.taken).sum()) * self.cell * self.cell

    def set(self, shape: Shape, x: float, y: float) -> None:
        """Take the shape's cells at (x, y)."""
        mask = shape.mask
        row, col = round(y / self.cell), round(x / self.cell)
        rows, cols = mask.shape
        self.taken[row : row + rows, col : col + cols] |= mask
        self._spectra = None
        self._sums = None

    def fits_at(self, shape: Shape, x: float, y: float) -> bool:
        """Whether the shape is free at (x, y) and inside."""
        mask = shape.mask
        row, col = round(y / self.cell), round(x / self.cell)
        rows, cols = mask.shape
        if row + rows > self.rows or col + cols > self.cols:
            return False
        return not bool((self.taken[row : row + rows, col : col + cols] & mask).any())

    def best_spot(self, shape: Shape, pull: tuple[float, float] = (0.0, 0.0)) -> Spot | None:
        """The free position that touches most; `pull` prefers far right (x) or far down (y)."""
        rows, cols = shape.mask.shape
        if rows > self.rows or cols > self.cols:
            return None
        free, touch = self._of_block(rows, cols) if shape.solid else self._of_any(shape)
        if not free.any():
            return None
        down = np.linspace(0, 1, free.shape[0])[:, None] if free.shape[0] > 1 else np.zeros((1, 1))
        over = np.linspace(0, 1, free.shape[1])[None, :] if free.shape[1] > 1 else np.zeros((1, 1))
        score = np.where(free, touch + pull[0] * over + pull[1] * down, -np.inf)
        row, col = np.unravel_index(int(score.argmax()), score.shape)
        return Spot(float(col) * self.cell, float(row) * self.cell, float(touch[row, col]))

    def _of_block(self, rows: int, cols: int) -> tuple[Mask, _Field]:
        """Free positions and touched rim of a full rectangle, from a summed-area table."""
        if self._sums is None:
            walls = np.ones((self.rows + 2, self.cols + 2), dtype=np.int64)
            walls[1:-1, 1:-1] = self.taken
            self._sums = np.pad(walls, ((1, 0), (1, 0))).cumsum(0).cumsum(1)
        outer = _sums_of(self._sums, rows + 2, cols + 2)
        inner = _sums_of(self._sums[1:, 1:], rows, cols)[: outer.shape[0], : outer.shape[1]]
        rim = 2.0 * (rows + cols) + 4
        return inner == 0, (outer - inner) / rim

    def _of_any(self, shape: Shape) -> tuple[Mask, _Field]:
        """Free positions and touched rim of any shape, by correlation."""
        size = (_quick(self.rows + 2), _quick(self.cols + 2))
        if self._spectra is None:
            walls, solid = np.zeros(size, np.float32), np.zeros(size, np.float32)
            walls[: self.rows + 2, : self.cols + 2] = 1.0
            walls[1 : self.rows + 1, 1 : self.cols + 1] = self.taken
            solid[1 : self.rows + 1, 1 : self.cols + 1] = self.taken
            self._spectra = (np.fft.rfft2(solid), np.fft.rfft2(walls))
        own, rim = shape.spectra(size)
        hits = np.fft.irfft2(self._spectra[0] * own, s=size)
        rows, cols = shape.mask.shape
        down, over = self.rows - rows + 1, self.cols - cols + 1
        # The rim's own corner stands one cell up and left of the shape's.
        free = hits[1 : down + 1, 1 : over + 1] < 0.5
        if not free.any():
            return free, np.zeros(free.shape)
        rims = np.fft.irfft2(self._spectra[1] * rim, s=size)
        # Counts of cells: whole, so that rounding decides nothing.
        return free, np.rint(rims[:down, :over]) / shape.rim_cells


class Shape:
    """The cells a thing takes, with what fitting it needs again and again."""

    def __init__(self, mask: Mask, cell: float) -> None:
        self.mask, self.cell = mask, cell
        self.solid = bool(mask.all())
        self._rim = _rim(mask)
        self.rim_cells = max(1.0, float(self._rim.sum()))
        self._spectra: tuple[tuple[int, int], _Spectrum, _Spectrum] | None = None

    @property
    def area(self) -> float:
        """The area of its cells in mm²."""
        return float(self.mask.sum()) * self.cell * self.cell

    def spectra(self, size: tuple[int, int]) -> tuple[_Spectrum, _Spectrum]:
        """Conjugate spectra of the shape and of its rim on a grid of that size."""
        if self._spectra is None or self._spectra[0] != size:
            self._spectra = (size, _spectrum(self.mask, size), _spectrum(self._rim, size))
        return self._spectra[1], self._spectra[2]


def _spectrum(mask: Mask, size: tuple[int, int]) -> _Spectrum:
    grid = np.zeros(size, np.float32)
    rows, cols = min(mask.shape[0], size[0]), min(mask.shape[1], size[1])
    grid[:rows, :cols] = mask[:rows, :cols]
    return np.conj(np.fft.rfft2(grid))


def _quick(least: int) -> int:
    """The next length with no prime factor above 5, for which the transform is quick."""
    length = least
    while True:
        rest = length
        for prime in (2, 3, 5):
            while rest % prime == 0:
                rest //= prime
        if rest == 1:
            return length
        length += 1


def _sums_of(table: npt.NDArray[np.int64], rows: int, cols: int) -> npt.NDArray[np.int64]:
    """Sums over every rows x cols window of the table's grid."""
    return table[rows:, cols:] - table[:-rows, cols:] - table[rows:, :-cols] + table[:-rows, :-cols]


def _rim(mask: Mask) -> Mask:
    rim = np.zeros((mask.shape[0] + 2, mask.shape[1] + 2), dtype=bool)
    for down in (0, 1, 2):
        for over in (0, 1, 2):
            rim[down : down + mask.shape[0], over : over + mask.shape[1]] |= mask
    rim[1:-1, 1:-1] &= ~mask
    return rim


def shape_of(boxes: Iterable[Box], clear: float, cell: float) -> Shape:
    """The cells that boxes take with `clear` mm kept free at their right and below.

    Keeping clear on two sides only is enough, since every neighbour does the same; the sheet's
    margin serves at its top and left.
    """
    listing = list(boxes)
    cols = max(math.ceil((b.right + clear) / cell) for b in listing)
    rows = max(math.ceil((b.bottom + clear) / cell) for b in listing)
    mask: Mask = np.zeros((rows, cols), dtype=bool)
    for box in listing:
        top, left = max(0, math.floor(box.y / cell)), max(0, math.floor(box.x / cell))
        bottom, right = (
            math.ceil((box.bottom + clear) / cell),
            math.ceil((box.right + clear) / cell),
        )
        mask[top:bottom, left:right] = True
    return Shape(mask, cell)
