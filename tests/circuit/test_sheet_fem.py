"""The sheet against finite elements of scikit-fem: another mesh, other elements, other contacts.

The triangles follow the smooth outline, not the cells, 0.5 mm along the edges; elements are quadratic; a
metal is a disc at one potential, with rings of small triangles round it.
"""

import math
from collections.abc import Callable, Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from scipy.spatial import Delaunay, KDTree
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri
from skfem.helpers import dot, grad
from skimage.measure import find_contours

from circuit.blocks import WALL
from circuit.sheet import reduce_lump

EDGE_MM, INNER_MM = 0.5, 1.0
Field = Callable[..., NDArray[np.float64]]
Terminals = Sequence[tuple[tuple[float, float], float]]


def contour(level: Field, size_mm: tuple[float, float]) -> NDArray[np.float64]:
    """Points (K, 2) [mm] along the lines where a field is 0, EDGE_MM apart."""
    step = 0.25
    rows, cols = np.indices((int(size_mm[1] / step), int(size_mm[0] / step)))
    found = []
    for line in find_contours(level((cols + 0.5) * step, (rows + 0.5) * step), 0):
        at = (line[:, ::-1] + 0.5) * step
        length = np.r_[0, np.cumsum(np.hypot(*np.diff(at, axis=0).T))]
        ticks = np.linspace(0, length[-1], max(3, int(length[-1] / EDGE_MM)), endpoint=False)
        found.append(np.stack([np.interp(ticks, length, at[:, k]) for k in (0, 1)], axis=1))
    return np.concatenate(found)


def rings(terminals: Terminals) -> NDArray[np.float64]:
    """Points (K, 2) [mm] on circles round each metal, the first one on its rim, and in its middle."""
    found = []
    for place, radius in terminals:
        found.append(np.array([place]))
        # The polygon of 16 corners has the area of the disc.
        reach = radius * math.sqrt(np.pi / 16 / math.sin(np.pi / 16) / math.cos(np.pi / 16))
        for k in range(int(math.log(2.2 / radius + 0.5, 1.4)) + 1):
            angle = 2 * np.pi * (np.arange(16) + 0.5 * (k % 2)) / 16
            found.append(place + reach * 1.4**k * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    return np.concatenate(found)


def triangles(lump: Any, seams: Sequence[Field] = ()) -> MeshTri:
    """A mesh of a lump whose triangles do not cross the seams."""
    size = lump.mask.shape[1] * lump.cell_mm, lump.mask.shape[0] * lump.cell_mm
    outline = contour(lump.inside, size)
    lines = [contour(seam, size) for seam in seams]
    edge = np.concatenate([outline, *(line[lump.inside(*line.T) > 0.002] for line in lines)])
    rows, cols = np.indices((int(size[1] / INNER_MM / 0.866), int(size[0] / INNER_MM)))
    grid = np.stack([(cols + rows % 2 / 2) * INNER_MM, rows * INNER_MM * 0.866], axis=-1).reshape(-1, 2)
    for place, radius in lump.terminals:
        grid = grid[np.hypot(*(grid - place).T) > 2.6 + radius / 2]
    round_metals = rings(lump.terminals)
    near = KDTree(edge)
    kept = [edge]
    for points, least in ((grid, 0.6), (round_metals, 0.3)):
        inner = points[lump.inside(*points.T) > 0]
        kept.append(inner[near.query(inner)[0] > least * EDGE_MM])
    at = np.concatenate(kept)
    corners = Delaunay(at).simplices
    corners = corners[lump.inside(*at[corners].mean(axis=1).T) > 0]
    a, b = at[corners[:, 1]] - at[corners[:, 0]], at[corners[:, 2]] - at[corners[:, 0]]
    corners = corners[abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) > 1e-9]
    return MeshTri(at.T.copy(), corners.T.copy())


@BilinearForm
def power(u: Any, v: Any, w: Any) -> Any:
    """What a sheet of conductance w.sheet turns into heat."""
    return w.sheet * dot(grad(u), grad(v))


def elements(lump: Any, sheet: Field | None = None, seams: Sequence[Field] = ()) -> NDArray[np.float64]:
    """(T, T) conductances between the metals [S]; the sheet may change at the seams."""
    basis = Basis(triangles(lump, seams), ElementTriP2())
    middle = basis.mesh.p[:, basis.mesh.t].mean(axis=1)
    values = np.ones(middle.shape[1]) if sheet is None else sheet(*middle)
    matrix = power.assemble(basis, sheet=np.repeat(values[:, None], basis.X.shape[1], axis=1)).tocsc()
    held = [
        np.nonzero(np.hypot(*(basis.doflocs.T - place).T) < radius * 1.02)[0]
        for place, radius in lump.terminals
    ]
    free = np.setdiff1d(np.unique(basis.element_dofs), np.concatenate(held))
    volts = np.zeros((matrix.shape[0], len(held)))
    for t, nodes in enumerate(held):
        volts[nodes, t] = 1
    volts[free] = -splu(matrix[free][:, free].tocsc()).solve((matrix @ volts)[free])
    g = volts.T @ (matrix @ volts)
    return np.asarray(g - np.diag(g.sum(axis=1)))


def test_the_elements_know_a_disc() -> None:
    """The check's own check: R = acosh(D/2a)/pi and more, by images of two wires in a disc. Textbook."""
    reach, apart, radius = 30.0, 24.0, 0.3
    lump = SimpleNamespace(
        inside=lambda x, y: reach - np.hypot(x - 35, y - 35),
        mask=np.ones((280, 280), bool),
        cell_mm=0.25,
        terminals=[((35 - apart / 2, 35.0), radius), ((35 + apart / 2, 35.0), radius)],
    )
    ratio = apart / 2 / reach
    images = math.log((1 + ratio**2) / (1 - ratio**2)) / math.pi
    exact = math.log(apart / radius) / math.pi + images
    assert 1 / elements(lump)[0, 0] == pytest.approx(exact, rel=2e-3)


@pytest.mark.parametrize("seed", range(10))
def test_ten_random_lumps(seed: int, invent: Callable[..., Any], ohms: Callable[..., float]) -> None:
    """A lead and five legs each, every pair of them: 1 %.

    A thick metal near an edge does not feed evenly all round, as the sheet takes it to.
    """
    lump = invent(seed)
    ours = reduce_lump(lump.mask, np.ones(lump.mask.shape), lump.cell_mm, lump.terminals).conductance
    theirs = elements(lump)
    for i in range(len(ours)):
        for j in range(i):
            assert ohms(ours, i, j) == pytest.approx(ohms(theirs, i, j), rel=0.01)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_wall_across_a_random_lump_leaks_as_much(seed: int, invent: Callable[..., Any]) -> None:
    """A bent wall of 2.2 mm that conducts 800 times worse: all that leaks from side to side, within 2 %."""
    lump = invent(seed)
    rows, cols = (np.indices(lump.mask.shape) + 0.5) * lump.cell_mm
    place = cols[lump.mask].mean(), rows[lump.mask].mean()

    def bend(x: Any, y: Any) -> Any:
        return y - place[1] - 3 * np.sin((x - place[0]) / 9)

    half, worse = 1.1, 800.0
    apart = [t for t in lump.terminals if abs(bend(*t[0])) > half + 2]
    side = np.array([bend(*t[0]) > 0 for t in apart])
    assert side.any() and not side.all()
    body = np.where(abs(bend(cols, rows)) < half, WALL, np.where(bend(cols, rows) < 0, 1, 2))
    body = np.where(lump.mask, body, 0).astype(np.int32)
    square = np.where(body == WALL, 1 / worse, 1.0)
    ours = reduce_lump(body, square, lump.cell_mm, apart).conductance
    parted = SimpleNamespace(inside=lump.inside, mask=lump.mask, cell_mm=lump.cell_mm, terminals=apart)
    theirs = elements(
        parted,
        lambda x, y: np.where(abs(bend(x, y)) < half, 1 / worse, 1.0),
        [lambda x, y: bend(x, y) - half, lambda x, y: bend(x, y) + half],
    )
    leak, expected = (-g[np.ix_(side, ~side)].sum() for g in (ours, theirs))
    assert leak == pytest.approx(expected, rel=0.02)
