"""A lump as a thin conducting sheet, reduced to the exact conductances between its terminals.

Finite volumes on square blocks: two nodes are joined by (shared border / side) squares' worth of
sheet. A terminal is a well joined to its node with the equivalent radius of Peaceman (Soc. Pet.
Eng. J. 18 (1978) 183), about 0.2 times the side of the block; exactly exp(-gamma) / sqrt(8), from
the far field of the endless square grid (OEIS A355565). The
reduction is a Schur complement (Kron reduction, Doerfler and Bullo 2013).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, diags_array
from scipy.sparse.linalg import splu

from circuit.blocks import Blocks, bodies, cut_into_blocks
from circuit.errors import SculptureError
from circuit.model import Point

SIDE_MM = 1.0
MOST_NODES = 12_000
EQUIVALENT_RADIUS = float(np.exp(-np.euler_gamma) / np.sqrt(8))
SNAP_MM = 3.0
CROWDED_BLOCKS = 4.0
LEAST_WELL = 0.02  # squares


@dataclass(frozen=True)
class Reduction:
    """conductance (T, T) [S]: currents into the terminals are `conductance @ volts`; rows sum to 0."""

    conductance: NDArray[np.float64]
    blocks: Blocks


def reduce_lump(
    mask: NDArray[np.bool_],
    square_S: NDArray[np.float64],
    cell_mm: float,
    terminals: Sequence[tuple[Point, float]],
    side_mm: float | None = None,
) -> Reduction:
    """Conductances between the terminals of a lump.

    mask (R, C): its cells; square_S (R, C): conductance per square [S]; terminals: place [mm] and
    radius [mm] of the metal. Terminals that no dough joins get no conductance between them.
    A terminal counts as in the middle of its block, so it may be half a block off.
    Raises SculptureError for a terminal farther than 3 mm from the lump.
    """
    if side_mm is None:
        side_mm = max(SIDE_MM, float(np.sqrt(mask.sum() * cell_mm**2 / MOST_NODES)))
    blocks = cut_into_blocks(mask, cell_mm, side_mm)
    at = np.array([node_at(blocks, place) for place, _ in terminals], np.intp)
    sheet = _node_means(blocks, mask, square_S)
    laplacian = _laplacian(blocks, sheet)
    n, t = laplacian.shape[0], len(terminals)
    # Each terminal first hangs on its node by one square of sheet, which keeps the matrix regular
    # even where two terminals share a node; the exact well replaces that link afterwards.
    link = sheet[at]
    links = coo_array((link, (at, np.arange(t))), shape=(n, t)).toarray()
    inner = laplacian + diags_array(links.sum(axis=1))
    keep = _reached(laplacian, at)
    factor = splu(
        csc_array(inner[keep][:, keep]),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    joined = np.diag(link) - links[keep].T @ factor.solve(links[keep])
    radius = np.array([r for _, r in terminals])
    well = np.log(EQUIVALENT_RADIUS * blocks.side_mm / radius) / (2 * np.pi * link)
    well = np.where(_crowded(blocks, at) & (well < -1e-9), LEAST_WELL / link, well)
    exact = joined @ np.linalg.inv(np.eye(t) - (1 / link - well)[:, None] * joined)
    exact = (exact + exact.T) / 2
    exact -= np.diag(exact.sum(axis=1))
    return Reduction(exact, blocks)


def node_at(blocks: Blocks, place: Point) -> int:
    """The node at a place [mm], or the nearest one within 3 mm."""
    h = blocks.cell_mm
    rows, cols = blocks.node.shape
    r, c = int(np.floor(place[1] / h)), int(np.floor(place[0] / h))
    if 0 <= r < rows and 0 <= c < cols and blocks.node[r, c] >= 0:
        return int(blocks.node[r, c])
    reach = int(SNAP_MM / h) + 1
    r0, c0 = max(0, r - reach), max(0, c - reach)
    window = blocks.node[r0 : max(0, r + reach + 1), c0 : max(0, c + reach + 1)]
    ys, xs = np.nonzero(window >= 0)
    away = np.hypot((xs + c0 + 0.5) * h - place[0], (ys + r0 + 0.5) * h - place[1])
    if not len(away) or away.min() > SNAP_MM:
        raise SculptureError(
            f"The entry at ({place[0]:.1f}, {place[1]:.1f}) mm lies more than {SNAP_MM:g} mm from its lump; "
            "tap it where it goes into the dough."
        )
    k = int(np.argmin(away))
    return int(window[ys[k], xs[k]])


def _node_means(
    blocks: Blocks, mask: NDArray[np.bool_], square_S: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Mean conductance per square [S] of each node."""
    member = blocks.node[mask]
    n = len(blocks.at)
    return np.asarray(np.bincount(member, square_S[mask], n) / np.bincount(member, minlength=n))


def _laplacian(blocks: Blocks, sheet: NDArray[np.float64]) -> csc_array:
    """(N, N) conductances [S]: border over side, times the harmonic mean of the two sheets."""
    borders = (blocks.across + blocks.down).tocoo()
    a, b = sheet[borders.row], sheet[borders.col]
    g = borders.data / blocks.side_mm * 2 * a * b / (a + b)
    joined = csc_array(coo_array((g, (borders.row, borders.col)), shape=borders.shape))
    return csc_array(diags_array(np.asarray(joined.sum(axis=0)).ravel()) - joined)


def _crowded(blocks: Blocks, at: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Terminals (T,) with another one so near that the far field no longer holds.

    There a metal thicker than the equivalent radius would come out with less than no resistance.
    """
    apart = np.hypot(*(blocks.at[at][:, None] - blocks.at[at][None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    return np.asarray(apart.min(axis=1, initial=np.inf) < CROWDED_BLOCKS * blocks.side_mm)


def _reached(laplacian: csc_array, at: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Nodes in the same body as some terminal; the others float and would make the matrix singular."""
    _, part = bodies(laplacian)
    return np.isin(part, part[at])
