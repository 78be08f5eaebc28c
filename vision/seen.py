"""What the eyes make of the straightened crop, before it is cut into pieces.

Notation: C classes (0 the table, i the i-th dough colour), h, w cells (rows, columns).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.model import TableView

THINGS = ("led", "metal", "red", "dark", "other")
"""What can lie on the dough: an LED's body, bare metal (legs, rods), red plastic (wire, sleeve),
black plastic (wire, sleeve, pack), and anything else (a hand, a toy, a crumb of no palette colour)."""


@dataclass(frozen=True)
class Seen:
    """Chances of what lies where, as seen from straight above.

    chance  (C, h, w) float32: what lies there underneath whatever hides it; sums to 1 over C
    things  (len(THINGS), h, w) float32: chance that this thing is what is seen there
    light   (h, w) float32: ln(R+G+B) of linear light
    pixels  (h, w, 3) uint8 sRGB: the straightened photo it was seen on; None when drawn
    cell_mm side of a cell; `view` has the corner of the crop as its origin
    """

    chance: NDArray[np.float32]
    things: NDArray[np.float32]
    light: NDArray[np.float32]
    cell_mm: float
    view: TableView
    pixels: NDArray[np.uint8] | None = None

    @property
    def covered(self) -> NDArray[np.float32]:
        """(h, w): chance that something that is no dough and no table is what is seen."""
        return np.asarray(self.things.sum(axis=0).clip(0, 1), np.float32)
