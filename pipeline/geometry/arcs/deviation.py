"""The distance between a path and the chain that replaces it."""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import flatten, flatten_chain

_BESIDE = 2  # neighbours tried on either side of the stretch at the same fraction of the length
_AT_ONCE = 16  # places measured exactly in one batch
_SURE = 1 + 1e-9  # far more than rounding can lower an upper bound


def measure_deviation(path: Path, chain: Chain, fine: float) -> tuple[float, float]:
    """Measure how far the path strays from the chain, and the chain from the path; both are followed within `fine`."""
    a, b = flatten((path,), fine)[0], flatten_chain(chain, fine)
    if path.closed:
        a, b = np.vstack((a, a[:1])), np.vstack((b, b[:1]))
    return measure_largest_distance(a, b, path.closed), measure_largest_distance(b, a, path.closed)


def measure_largest_distance(a: Array, b: Array, closed: bool) -> float:
    """Return the largest distance of any point of a (n, 2) from the polyline b (m, 2); both are closed or both open.

    Only points that may be the farthest are measured, those with the highest upper bound first.
    """
    most = _bound_distances(a, b, closed)
    line, found = shapely.linestrings(b), 0.0
    order = np.argsort(-most, kind="stable")
    for k in range(0, len(order), _AT_ONCE):
        some = order[k : k + _AT_ONCE]
        if most[some[0]] * _SURE < found:
            break
        found = max(found, float(shapely.distance(shapely.points(a[some]), line).max()))
    return found


def _bound_distances(a: Array, b: Array, closed: bool) -> Array:
    """Return an upper bound of each point's distance: to the few stretches of b at the same fraction of its length.

    A closed b begins, for this, at its vertex nearest to the first point.
    """
    step = np.diff(b, axis=0)
    way, whole = _join_run(a), _join_run(b)
    part = way / (way[-1] or 1.0)
    if closed:
        first = ((b[:-1] - a[0]) ** 2).sum(axis=1).argmin()
        part = (part + whole[first] / (whole[-1] or 1.0)) % 1.0
    near = np.searchsorted(whole, part * whole[-1], side="right") - 1
    near = near[:, None] + np.arange(-_BESIDE, _BESIDE + 1)
    near = near % len(step) if closed else np.clip(near, 0, len(step) - 1)
    off, along = a[:, None] - b[near], step[near]
    square = (along**2).sum(axis=2)
    t = np.clip((off * along).sum(axis=2) / np.where(square > 0, square, 1.0), 0.0, 1.0)
    off -= t[..., None] * along
    least: Array = np.hypot(off[..., 0], off[..., 1]).min(axis=1)
    return least


def _join_run(run: Array) -> Array:
    """Return the length along a polyline up to each of its points."""
    step = np.diff(run, axis=0)
    return np.concatenate(([0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))))
