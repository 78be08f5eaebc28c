"""What the helper corrected on the photo wins over what was seen: strokes, joins and cuts.

Strokes come first, in their order, then joins, then cuts. A stroke covers exactly the cells whose middle
lies within half its width of the line.

Notation: R, C cells (rows, columns).
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from vision.errors import VisionError
from vision.model import NOT_DOUGH, Colour, Correction, Line, Point, TableView
from vision.palette import doughs_of
from vision.pieces import (
    CRUMB_MM2,
    WIRE_HALF_MM,
    Ground,
    Ids,
    Labels,
    completed,
    grown,
    nearest,
    neighbours,
    parts_of,
    seams_of,
)
from vision.raster import Mask, dilated, opened
from vision.strokes import BARRIER, BRIDGE_MM, UNSAID, cells, said
from vision.tracks import track

SNAP_MM = 3.0
"""How far from the dough a join may begin or end (estimated from how well a finger hits)."""
CLEAR_MM = 0.5
"""How far a bridge stays from lumps that its line does not cross (estimated)."""
NEAR_CUT_MM = 1.0
"""Nearer to a cut than this nothing is in doubt or hidden: the helper has said it."""


def corrected(
    labels: Labels,
    ground: Ground,
    corrections: Sequence[Correction],
    palette: Sequence[Colour],
    cell_mm: float,
    view: TableView,
) -> tuple[Labels, Ground]:
    """Labels as reported (R, C), and ground, with strokes, joins and cuts; `view` begins at their corner.

    Raises:
        VisionError: a join that begins or ends on no conductive dough.
    """
    if not corrections:
        return labels, ground
    conducts = np.zeros(256, bool)
    conducts[1 : len(doughs_of(palette)) + 1] = [c.role == "conductive" for c in doughs_of(palette)]
    paint = said(ground.labels.shape, corrections, palette, cell_mm, view)
    before = ground.labels
    ground = _with_strokes(ground, paint, conducts, cell_mm)
    lines = [one for one in corrections if isinstance(one, Line)]
    for one in lines:
        if one.kind == "join":
            ground = _joined(ground, cells(one.points, cell_mm, view), conducts, cell_mm)
    cuts = [cells(one.points, cell_mm, view) for one in lines if one.kind == "cut"]
    if cuts:
        ground = _cut(ground, cuts, conducts, cell_mm)
    ground = _owned(ground, conducts)
    told = (paint != UNSAID) | (ground.labels != before)
    shown = np.where(told, np.where(paint == NOT_DOUGH, NOT_DOUGH, ground.labels), labels)
    return shown.astype(np.uint8), ground


def _with_strokes(
    ground: Ground, paint: NDArray[np.int16], conducts: NDArray[np.bool_], cell_mm: float
) -> Ground:
    """The ground with strokes; under thin strokes of what is no dough it goes on from both sides."""
    if (paint == UNSAID).all():
        return ground
    lost = paint == NOT_DOUGH
    thick = lost & dilated(opened(lost, WIRE_HALF_MM, cell_mm), 0.5, cell_mm)
    labels = np.where((paint == UNSAID) | lost, ground.labels, paint).astype(np.uint8)
    if lost.any():
        labels = np.where(lost & ~thick, nearest(labels, lost), labels)
    fresh = ((paint != UNSAID) & ~lost) | (lost & ~thick)
    ground = replace(ground, hidden=ground.hidden & ~fresh, guessed=(ground.guessed & ~fresh) | lost)
    out = _rebodied(ground, labels, fresh, conducts)
    unseen = thick & ~out.hidden
    if not unseen.any():
        return out
    more = completed(out.labels, out.body, unseen, out.guessed, conducts)
    return replace(
        out,
        labels=more.labels,
        body=more.body,
        hidden=out.hidden | unseen,
        seams=np.concatenate([out.seams, more.seams]),
    )


def _joined(ground: Ground, line: list[Point], conducts: NDArray[np.bool_], cell_mm: float) -> Ground:
    """A bridge of the dough at the beginning of the line; all conductive dough on it becomes one body."""
    conductive = conducts[ground.labels]
    line = [_on_dough(line[0], conductive, cell_mm, "begins"), *line]
    line.append(_on_dough(line[-1], conductive, cell_mm, "ends"))
    spine = track(line, BARRIER, conductive.shape)
    crossed = np.unique(ground.body[spine & conductive])
    others = conductive & (ground.body > 0) & ~np.isin(ground.body, crossed)
    band = track(line, BRIDGE_MM / 2 / cell_mm, conductive.shape) & ~dilated(others, CLEAR_MM, cell_mm)
    bridge = (band | spine) & ~conductive
    first_col, first_row = (round(v) for v in line[0])
    labels = np.where(bridge, ground.labels[first_row, first_col], ground.labels)
    told = spine | bridge
    ground = replace(ground, hidden=ground.hidden & ~told, guessed=ground.guessed & ~told)
    return _rebodied(ground, labels, bridge, conducts, glue=told)


def _on_dough(at: Point, conductive: Mask, cell_mm: float, verb: str) -> Point:
    """The conductive cell (column, row) nearest to a point."""
    reach = int(np.ceil(SNAP_MM / cell_mm)) + 1
    top, left = (max(0, int(v) - reach) for v in (at[1], at[0]))
    rows, cols = np.nonzero(conductive[top : int(at[1]) + reach + 2, left : int(at[0]) + reach + 2])
    away = np.hypot(rows + top - at[1], cols + left - at[0])
    if not len(away) or away.min() * cell_mm > max(SNAP_MM, cell_mm):
        raise VisionError(
            "A join {verb} on no conductive dough; draw it from dough to dough.",
            verb=verb,
        )
    best = int(np.argmin(away))
    return (float(cols[best] + left), float(rows[best] + top))


def _cut(ground: Ground, lines: list[list[Point]], conducts: NDArray[np.bool_], cell_mm: float) -> Ground:
    """Conductive dough parted along the lines; slivers that the cuts leave go as well."""
    conductive = conducts[ground.labels]
    way = np.any([track(line, BARRIER, conductive.shape) for line in lines], axis=0)
    gone = way & conductive
    labels = np.where(gone, np.uint8(0), ground.labels)
    near = dilated(way, NEAR_CUT_MM, cell_mm)
    ground = replace(ground, guessed=ground.guessed & ~gone, cut=near)
    out = _rebodied(ground, labels, np.zeros_like(gone), conducts)
    slivers = parts_of(out.body)
    small = np.bincount(slivers.ravel()) * cell_mm**2 < CRUMB_MM2
    beside = np.zeros(len(small), bool)
    beside[np.unique(slivers[dilated(gone, 1.5 * cell_mm, cell_mm)])] = True
    crumbs = (small & beside)[slivers] & (slivers > 0)
    return replace(
        out,
        labels=np.where(crumbs, np.uint8(0), labels),
        body=np.where(crumbs, np.int32(0), out.body),
        seams=out.seams[~near[out.seams[:, 0], out.seams[:, 1]]],
    )


def _rebodied(
    ground: Ground,
    labels: Labels,
    fresh: Mask,
    conducts: NDArray[np.bool_],
    glue: Mask | None = None,
) -> Ground:
    """The ground with new labels: bodies that lost cells fall apart, `fresh` cells join what they touch.

    Conductive cells in `glue` become one body. Hidden cells hold nothing together, so those of bodies that
    changed belong to nobody until `_owned` has them.
    """
    conductive = conducts[labels]
    new = parts_of(fresh & conductive)
    old = np.where(conductive & (new == 0), ground.body, 0)
    changed = np.zeros(int(ground.body.max(initial=0)) + 1, bool)
    changed[np.unique(ground.body[fresh | (labels != ground.labels)])] = True
    changed[0] = False
    split = parts_of(np.where(changed[old] & ~ground.hidden, old, 0))
    node = np.where(split > 0, split + len(changed), np.where(changed[old], 0, old))
    node = np.where(new > 0, new + int(node.max(initial=0)), node)
    edges = [np.zeros((0, 2), np.int64)]
    for here, there in neighbours(node.shape):
        a, b = node[here], node[there]
        meet = (a != b) & (a > 0) & (b > 0) & ((new[here] > 0) | (new[there] > 0))
        edges.append(np.stack([a[meet], b[meet]], axis=1))
    if glue is not None:
        tied = np.unique(node[glue & (node > 0)])
        edges.append(np.array(list(pairwise(tied.tolist())), np.int64).reshape(-1, 2))
    body = _merged(node, np.concatenate(edges))
    seams = _moved_seams(ground, body, fresh | (labels != ground.labels))
    return replace(ground, labels=labels, body=body, seams=seams)


def _owned(ground: Ground, conducts: NDArray[np.bool_]) -> Ground:
    """Hidden dough of no body goes to what it hangs together with; where two bodies then meet is a seam.

    Near a cut nothing counts as hidden any more.
    """
    conductive, hidden = conducts[ground.labels], ground.hidden
    seen_near = hidden if ground.cut is None else hidden & ~ground.cut
    if not (conductive & (ground.body == 0)).any():
        return replace(ground, hidden=seen_near)
    body = grown(ground.body, conductive)
    body[body > ground.body.max(initial=0)] = 0  # guessed dough that now hangs together with nothing seen
    seams = seams_of(body, hidden)
    body[seams[:, 0], seams[:, 1]] = 0
    labels = np.where(conductive & (body == 0), np.uint8(0), ground.labels)
    return replace(
        ground, labels=labels, body=body, hidden=seen_near, seams=np.concatenate([ground.seams, seams])
    )


def _merged(node: NDArray[np.int64], edges: NDArray[np.int64]) -> Ids:
    """Bodies from 1 of nodes (R, C) that hang together by edges (n, 2)."""
    count = int(node.max(initial=0)) + 1
    graph = coo_array((np.ones(len(edges), np.int8), (edges[:, 0], edges[:, 1])), shape=(count, count))
    _, group = connected_components(graph, directed=False)
    used = np.unique(node)
    rank = np.zeros(count, np.int32)
    _, rank[used] = np.unique(group[used], return_inverse=True)
    rank[used] += 1
    rank[0] = 0
    return np.asarray(rank[node], np.int32)


def _moved_seams(ground: Ground, body: Ids, changed: Mask) -> NDArray[np.int64]:
    """The seams with the new numbers of their bodies; seams that were corrected away are dropped."""
    seams = ground.seams[~changed[ground.seams[:, 0], ground.seams[:, 1]]]
    if not len(seams):
        return seams
    out: NDArray[np.int64] = seams.copy()
    for old in np.unique(seams[:, 2:]):
        now = nearest(body, (ground.body != old) | (body == 0))
        for column in (2, 3):
            mine = seams[:, column] == old
            out[mine, column] = now[seams[mine, 0], seams[mine, 1]]
    return np.asarray(out[(out[:, 2] != out[:, 3]) & (out[:, 2:] > 0).all(axis=1)])
