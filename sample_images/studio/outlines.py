"""Outlines of invented sculptures and the seams that part them into lumps.

Notation: R, C cells; X, Y (R, C) mm; see `raster`.
"""

from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.raster import (
    CELL_MM,
    Floats,
    Mask,
    Point,
    Rng,
    bent,
    depth_of,
    grid_shape,
    smooth,
    to_cells,
)


def blob(rng: Rng, at: Point, size_mm: float, X: Floats, Y: Floats, wild: float = 0.18) -> Mask:
    """A roundish or long body with a wavy rim."""
    turn, ratio = rng.uniform(0, np.pi), rng.uniform(0.45, 1.0)
    x, y, c, s = (
        X - np.float32(at[0]),
        Y - np.float32(at[1]),
        np.float32(np.cos(turn)),
        np.float32(np.sin(turn)),
    )
    u, v = x * c + y * s, y * c - x * s
    w = v / np.float32(ratio)
    turned = (u + 1j * w) / np.maximum(np.hypot(u, w), 1e-6)  # cos and sin of the angle
    wave = turned.copy()
    rim = np.ones_like(u)
    for k in range(2, 7):
        wave *= turned
        weight, phase = rng.normal(0, wild / k), rng.uniform(0, 2 * np.pi)
        rim += np.float32(weight * np.cos(phase)) * wave.real - np.float32(weight * np.sin(phase)) * wave.imag
    power = rng.choice([2.0, 2.0, 3.5])
    size = np.float32(size_mm)
    if power == 2:
        r = np.hypot(u / size, w / size)
    else:
        r = (np.abs(u / size) ** power + np.abs(w / size) ** power) ** (1 / power)
    return np.asarray(r < rim)


def _rope(points: Sequence[Point], radius_mm: Sequence[float]) -> Mask:
    """A sausage along points with radii spread along it."""
    shape = grid_shape()
    out = np.zeros(shape, np.uint8)
    p = to_cells(points)
    r = np.interp(np.linspace(0, 1, len(p)), np.linspace(0, 1, len(radius_mm)), radius_mm)
    for (a, b), ra in zip(pairwise(p), r[:-1], strict=True):
        ends = [tuple(int(v * 16) for v in e) for e in (a, b)]
        cv2.line(out, ends[0], ends[1], 1, max(1, round(2 * ra / CELL_MM)), cv2.LINE_8, 4)
    return out.astype(bool)


def _silhouette(rng: Rng, X: Floats, Y: Floats, size: float) -> Mask:
    """The outline of the whole: one to four blobs and limbs grown together."""
    at = (rng.uniform(-12, 12), rng.uniform(-10, 10))
    body = blob(rng, at, size, X, Y)
    for _ in range(rng.integers(0, 4)):
        turn, far = rng.uniform(0, 2 * np.pi), size * rng.uniform(0.6, 1.0)
        to = (at[0] + far * np.cos(turn), at[1] + far * np.sin(turn))
        if rng.random() < 0.5:
            body |= blob(rng, to, size * rng.uniform(0.25, 0.5), X, Y)
        else:
            tip = (to[0] + rng.normal(0, 9) + 10 * np.cos(turn), to[1] + rng.normal(0, 9) + 10 * np.sin(turn))
            body |= _rope(bent([at, to, tip]), (rng.uniform(5, 9), rng.uniform(3, 6)))
    soft = depth_of(body)
    return np.asarray(cv2.GaussianBlur(soft, (0, 0), 1.6 / CELL_MM) > 0)


def _seam(rng: Rng, X: Floats, Y: Floats, size: float) -> Floats:
    """A field (R, C) in mm that is about the signed distance to a random seam."""
    if rng.random() < 0.22:
        at = (rng.normal(0, size * 0.25), rng.normal(0, size * 0.2))
        r = size * rng.uniform(0.28, 0.55)
        stretch = rng.uniform(0.75, 1.3)
        field = np.hypot((X - at[0]) * stretch, Y - at[1]) - r
        field = field + smooth(rng, X.shape, 14) * rng.uniform(0, 1.2)
        return np.asarray(field / max(stretch, 1.0), np.float32)
    turn = rng.uniform(0, np.pi)
    off = rng.normal(0, size * 0.28)
    u = X * np.cos(turn) + Y * np.sin(turn)
    v = -X * np.sin(turn) + Y * np.cos(turn) - off
    v = v + rng.uniform(0, 5) * np.sin(u / rng.uniform(9, 26) + rng.uniform(0, 6.3))
    v = v + rng.uniform(0, 1.0) * smooth(rng, X.shape, 9)
    dy, dx = np.gradient(cv2.GaussianBlur(v.astype(np.float32), (0, 0), 3), CELL_MM)
    return np.asarray(v / np.maximum(np.hypot(dx, dy), 0.6), np.float32)


def split(rng: Rng, X: Floats, Y: Floats, size: float, wanted: int) -> tuple[NDArray[np.int32], Floats]:
    """A silhouette cut by seams: lumps (R, C) without gaps, and the distance to the nearest seam."""
    body = _silhouette(rng, X, Y, size)
    side = np.zeros(X.shape, np.int32)
    seam = np.full(X.shape, 1e3, np.float32)
    for i in range(wanted - 1):
        new = _seam(rng, X, Y, size)
        where = side == int(rng.integers(0, i + 1)) if rng.random() < 0.4 else np.ones_like(body)
        side[where & (new > 0)] += 1 << i
        seam = np.where(where, np.minimum(seam, np.abs(new)), seam)
    lumps = np.zeros(X.shape, np.int32)
    number = 0
    for value in np.unique(side[body]):
        n, parts, stats, _ = cv2.connectedComponentsWithStats(((side == value) & body).astype(np.uint8))
        for k in range(1, n):
            if stats[k, cv2.CC_STAT_AREA] * CELL_MM**2 > 90:
                number += 1
                lumps[parts == k] = number
    return lumps, np.asarray(seam, np.float32)


def side_by_side(
    rng: Rng, X: Floats, Y: Floats, size: float, wanted: int
) -> tuple[NDArray[np.int32], Floats]:
    """Blobs or slabs in a row or ring, grown until they meet; seams lie half-way (a Voronoi cut)."""
    turn = rng.uniform(0, 2 * np.pi)
    masks = []
    step = size * rng.uniform(0.55, 0.85)
    for i in range(wanted):
        far = (i - (wanted - 1) / 2) * step
        at = (far * np.cos(turn) + rng.normal(0, 2), far * np.sin(turn) + rng.normal(0, 2))
        masks.append(blob(rng, at, size * rng.uniform(0.45, 0.7), X, Y, 0.12))
    depths = np.stack([depth_of(m) for m in masks])
    best = np.sort(depths, axis=0)
    lumps = np.where(best[-1] > 0, depths.argmax(axis=0) + 1, 0).astype(np.int32)
    return lumps, np.asarray(np.maximum((best[-1] - best[-2]) / 2, 0), np.float32)


def coil(rng: Rng, X: Floats, Y: Floats, size: float, wanted: int) -> NDArray[np.int32]:
    """Arms wound round each other in a blob: lumps (R, C) without gaps."""
    body = blob(rng, (0.0, 0.0), max(size, 26.0), X, Y, 0.1)
    pitch = rng.uniform(12, 17) * wanted
    wound = np.hypot(X, Y) / pitch + rng.choice([-1, 1]) * np.arctan2(Y, X) / (2 * np.pi)
    arm = np.floor((wound + rng.uniform(0, 1)) % 1 * wanted).astype(np.int32)
    lumps = np.zeros(X.shape, np.int32)
    number = 0
    for value in range(wanted):
        n, parts, stats, _ = cv2.connectedComponentsWithStats(((arm == value) & body).astype(np.uint8))
        for k in range(1, n):
            if stats[k, cv2.CC_STAT_AREA] * CELL_MM**2 > 90:
                number += 1
                lumps[parts == k] = number
    return lumps
