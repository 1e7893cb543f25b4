"""A picture of a page laid over the page as it was made: found by features, straightened by a homography, and evened
out where the paper was curved or folded."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from pipeline.signoff.pictures.empty_pages import MM, EmptyPage
from pipeline.signoff.pictures.picture_files import Pixels

FOUND_AT = 0.6
"""Of the working size: what features are looked for at (90 dpi)."""
MOST_FEATURES = 3_000
FEWEST = 28
"""Matches that agree on where the page lies."""
FAR = 3.0
"""Pixels by which matches that agree may miss."""
TILE = round(14 * MM)
OUTER = round(5 * MM)
"""Nothing is printed so near the page's edge, and what lies beside the page may be seen there."""
REACH = round(2.5 * MM)
"""How far paper that is curved may be off after it was straightened."""
AROUND, UNEVEN, STEEPEST = 2.2, 2.5, 0.06
"""How far around a piece, in pieces, shifts are compared; pixels by which two may differ, and more for each pixel that
they are apart."""
ALIKE = 0.55
"""Correlation from which a piece of the page is known again."""
COARSE = 8
"""Pixels between those for which a place in the picture is computed; between them it is as good as straight."""
EDGE, EDGES, LEAST_CONTRAST = 8, 60, 60
"""Of 255: a step of lightness between neighbours, how many of them across and down a piece with print has, and how far
its lightest and darkest places are apart."""
SURELY_BLACK = 90
"""Of 255: print that is darker is black in a picture without greys; such as lettering, names and numbers."""
SURE = 0.45
"""The same for a page that is straight by now: less is a piece that cannot be seen."""
USUAL_BLUR = 1.1
GREYS = 0.15
"""Part of what is not white that is grey in a picture without greys, through its compression."""
FEWEST_PIECES = 12
SOME = 24
"""Pieces that a picture's blur is measured by."""
BLURS = (0.6, 1.1, 1.7, 2.4, 3.2, 4.2, 5.5)
"""Standard deviations tried, pixels of the working size."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PageFeatures:
    """What a picture is recognised by. scale: of the picture they were found in to its own."""

    points: Points
    kinds: Any
    scale: float


@dataclass(slots=True, kw_only=True, eq=False)
class StraightPage:
    """A picture as the page lies. look: red, green, blue, as large as the empty page; inside: 0 where the picture does
    not reach. blur: its own, as pixels of a standard deviation. sure: part of the pieces with print that are known
    again; doubts: those that are not, as places. two_tones: it is black and white without greys, such as a fax."""

    look: Pixels
    inside: NDArray[np.bool_]
    blur: float
    sure: float
    doubts: list[tuple[int, int, int, int]] = field(default_factory=list)
    two_tones: bool = False


def find_features(image: Pixels, longest: float, *, quick: bool) -> PageFeatures:
    """Features of an image, looked for at no more than `longest` pixels of its longer side. quick: those of ORB, a
    tenth of the work; SIFT's are found again in blurred and slanting pictures too."""
    grey = _convert_to_grey(image)
    scale = min(1.0, longest / max(grey.shape))
    if scale < 1:
        grey = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    grey = cv2.createCLAHE(clipLimit=2.0, tileGridSize=(6, 6)).apply(grey)
    finder: Any = (
        cv2.ORB.create(nfeatures=MOST_FEATURES, fastThreshold=12)
        if quick
        else cv2.SIFT.create(nfeatures=MOST_FEATURES, contrastThreshold=0.02)
    )
    points, kinds = finder.detectAndCompute(grey, None)
    found = np.array([p.pt for p in points], dtype=np.float64).reshape(-1, 2) / scale
    if kinds is not None and len(kinds) and not quick:  # RootSIFT (Arandjelović and Zisserman 2012)
        kinds = np.sqrt(kinds / np.maximum(kinds.sum(axis=1, keepdims=True), 1e-9)).astype(np.float32)
    return PageFeatures(points=found, kinds=kinds, scale=scale)


def find_page(page: PageFeatures, picture: PageFeatures, size: tuple[int, int]) -> tuple[Points | None, int]:
    """The homography from the page to the picture, None where it is not there; and how many matches agree on it.
    size: height and width of the page."""
    if page.kinds is None or picture.kinds is None or len(page.points) < FEWEST or len(picture.points) < FEWEST:
        return None, 0
    way = cv2.NORM_HAMMING if page.kinds.dtype == np.uint8 else cv2.NORM_L2
    pairs = cv2.BFMatcher(way).knnMatch(page.kinds, picture.kinds, k=2)
    good = [a for a, *rest in pairs if rest and a.distance < 0.82 * rest[0].distance]
    if len(good) < FEWEST:
        return None, len(good)
    source = page.points[[m.queryIdx for m in good]]
    target = picture.points[[m.trainIdx for m in good]]
    cv2.setRNGSeed(7)
    found, agree = cv2.findHomography(source, target, cv2.USAC_MAGSAC, FAR / picture.scale, maxIters=20_000)
    if found is None:
        return None, 0
    count = int(agree.sum())
    corners = _map_points(found, np.array([[0, 0], [size[1], 0], [size[1], size[0]], [0, size[0]]], dtype=np.float64))
    sides = [corners[i] - corners[i - 1] for i in range(4)]
    turns = [float(a[0] * b[1] - a[1] * b[0]) for a, b in zip(sides, sides[1:] + sides[:1], strict=True)]
    if count < FEWEST or not all(t > 0 for t in turns):
        return None, count
    return np.asarray(found, dtype=np.float64), count


def _map_points(matrix: Points, points: Points) -> Points:
    return np.asarray(cv2.perspectiveTransform(points.reshape(-1, 1, 2), matrix)).reshape(-1, 2)


def straighten_page(picture: Pixels, matrix: Points, page: EmptyPage) -> StraightPage:
    """Straighten the picture to the page's position. matrix: from the page to the picture."""
    high, wide = page.look.shape[:2]
    two_tones = _has_two_tones(picture)
    picture, matrix = _shrink_to_page(picture, matrix, (high, wide))
    grid = np.dstack(np.meshgrid(_list_coarse_middles(wide), _list_coarse_middles(high)))
    reference = cv2.cvtColor(page.look, cv2.COLOR_RGB2GRAY)
    moved = np.zeros_like(grid)
    soft = cv2.GaussianBlur(reference, (0, 0), USUAL_BLUR)
    look = _sample_picture(picture, _locate_pixels(matrix, grid, (high, wide)))
    halves = [
        cv2.resize(each, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for each in (soft, _convert_to_grey(look))
    ]
    places, shifts, _ = _match_pieces(halves[0], halves[1], tile=TILE // 2, reach=REACH)
    places, shifts = _drop_odd_shifts(2 * places, 2 * shifts)
    if len(places) >= FEWEST_PIECES:
        moved = _smooth_shifts(places, shifts, 3, (high, wide), grid)
    for degree in (4, 0, 0):
        look = _sample_picture(picture, _locate_pixels(matrix, grid + moved, (high, wide)))
        places, shifts, _ = _match_pieces(soft, _convert_to_grey(look), reach=REACH if degree else REACH // 2)
        places, shifts = _drop_odd_shifts(places, shifts)
        if len(places) < FEWEST_PIECES:
            break
        moved = moved + (
            _smooth_shifts(places, shifts, degree, (high, wide), grid)
            if degree
            else _follow_neighbours(places, shifts, grid)
        )
    where = _locate_pixels(matrix, grid + moved, (high, wide))
    look = _sample_picture(picture, where)
    grey = _convert_to_grey(look)
    places, _, doubts = _match_pieces(soft, grey, sure=SURE)
    blur = _estimate_blur(reference, grey, places)
    if blur > USUAL_BLUR:
        places, _, doubts = _match_pieces(cv2.GaussianBlur(reference, (0, 0), blur), grey, sure=SURE)
    if two_tones:
        doubts = [d for d in doubts if _has_dark_print(reference, d)]
    total = len(places) + len(doubts)
    return StraightPage(
        look=look,
        inside=_find_inside(picture, where),
        blur=blur,
        sure=len(places) / max(total, 1),
        doubts=doubts,
        two_tones=two_tones,
    )


def _has_two_tones(picture: Pixels) -> bool:
    """Return whether a picture has no greys to speak of: in others the edge of each stroke is grey."""
    grey = _convert_to_grey(picture)
    shown = int(np.count_nonzero(grey < 200))
    return bool(np.count_nonzero((grey > 70) & (grey < 200)) < GREYS * max(shown, 1))


def _convert_to_grey(look: Any) -> Any:
    return cv2.cvtColor(look, cv2.COLOR_RGB2GRAY)


def _shrink_to_page(picture: Pixels, matrix: Points, size: tuple[int, int]) -> tuple[Pixels, Points]:
    """Shrink a picture that shows the page much larger than it is examined, so that nothing of it is passed over."""
    high, wide = size
    corners = _map_points(matrix, np.array([[0, 0], [wide, 0], [wide, high], [0, high]], dtype=np.float64))
    area = float(cv2.contourArea(corners.astype(np.float32)))
    scale = (area / (high * wide)) ** 0.5
    if scale < 1.5:
        return picture, matrix
    less = 1.15 / scale
    small = cv2.resize(picture, None, fx=less, fy=less, interpolation=cv2.INTER_AREA)
    return small, np.diag([less, less, 1.0]) @ matrix


def _list_coarse_middles(length: int) -> Points:
    """List the centres of the pixels of a side that is `COARSE` times smaller, as `cv2.resize` has them."""
    count = -(-length // COARSE)
    return (np.arange(count, dtype=np.float64) + 0.5) * (length / count) - 0.5


def _locate_pixels(matrix: Points, at: Points, size: tuple[int, int]) -> tuple[Any, Any]:
    """Locate each pixel of the page in the picture. at: places on the page, some pixels apart."""
    x, y = at[..., 0], at[..., 1]
    w = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    u = (matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]) / w
    v = (matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]) / w
    high, wide = size
    return _enlarge_grid(u.astype(np.float32), (high, wide)), _enlarge_grid(v.astype(np.float32), (high, wide))


def _enlarge_grid(values: Any, size: tuple[int, int]) -> Any:
    """Interpolate values that lie some pixels apart to every pixel, linearly also at the edges."""
    more = np.pad(values, 1, mode="reflect", reflect_type="odd")
    step_y, step_x = size[0] / values.shape[0], size[1] / values.shape[1]
    ys, xs = np.arange(size[0]), np.arange(size[1])
    at_y = ((ys + 0.5) / step_y + 0.5).astype(np.float32)
    at_x = ((xs + 0.5) / step_x + 0.5).astype(np.float32)
    across, down = np.meshgrid(at_x, at_y)
    return np.asarray(cv2.remap(more, across, down, cv2.INTER_LINEAR))


def _sample_picture(picture: Pixels, where: tuple[Any, Any]) -> Pixels:
    return np.asarray(cv2.remap(picture, *where, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))


def _find_inside(picture: Pixels, where: tuple[Any, Any]) -> NDArray[np.bool_]:
    u, v = where
    high, wide = picture.shape[:2]
    return np.asarray((u >= 0) & (v >= 0) & (u <= wide - 1) & (v <= high - 1))


def _estimate_blur(reference: Any, grey: Any, places: Points) -> float:
    """Estimate from some pieces how much the original page must be blurred to look most like the picture."""
    if len(places) == 0:
        return BLURS[-1]
    some = places[:: max(1, len(places) // SOME)].astype(int)
    half = TILE // 2
    high, wide = reference.shape
    inner = [(x, y) for x, y in some if half <= x <= wide - half and half <= y <= high - half] or [(half, half)]
    own, seen = (
        np.concatenate([image[y - half : y + half, x - half : x + half] for x, y in inner])
        for image in (reference, grey)
    )
    there, flat = _find_print(own), _flatten_shade(seen)
    best = (-2.0, BLURS[-1])
    for blur in BLURS:
        soft = _flatten_shade(cv2.GaussianBlur(own, (0, 0), blur))
        best = max(best, (_correlate(soft[there], flat[there]), blur))
    return best[1]


def _find_print(reference: Any) -> NDArray[np.bool_]:
    edges = cv2.morphologyEx(reference, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 60
    return np.asarray(cv2.dilate(edges.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0)


def _flatten_shade(grey: Any) -> Any:
    """Remove slow changes of lightness, such as shadows."""
    real = grey.astype(np.float32)
    return real - cv2.GaussianBlur(real, (0, 0), 2 * MM)


def _correlate(one: Any, other: Any) -> float:
    if one.size < 100:
        return 0.0
    a, b = one - one.mean(), other - other.mean()
    return float((a * b).sum() / max(float(np.sqrt((a * a).sum() * (b * b).sum())), 1e-9))


def _match_pieces(
    soft: Any, grey: Any, sure: float = ALIKE, tile: int = TILE, reach: int = REACH
) -> tuple[Points, Points, list[tuple[int, int, int, int]]]:
    """Match the printed pieces of the page: return centres and shifts of those recognised, and the places of the
    others."""
    high, wide = soft.shape
    steps = (cv2.absdiff(soft[:, 1:], soft[:, :-1]) > EDGE, cv2.absdiff(soft[1:], soft[:-1]) > EDGE)
    least = EDGES * tile // TILE
    places, shifts, doubts = [], [], []
    edge = OUTER * tile // TILE
    for top in range(edge, high - edge - tile // 2, tile):
        for left in range(edge, wide - edge - tile // 2, tile):
            piece = soft[top : top + tile, left : left + tile]
            across, down = (
                np.count_nonzero(steps[0][top : top + tile, left : left + tile - 1]),
                np.count_nonzero(steps[1][top : top + tile - 1, left : left + tile]),
            )
            if min(across, down) <= least or np.ptp(piece) <= LEAST_CONTRAST:  # it could be anywhere
                continue
            found = _measure_shift(piece, grey, left, top, reach)
            if found is None:
                continue
            score, dx, dy = found
            if score >= sure and max(abs(dx), abs(dy)) < reach - 1:
                places.append((left + piece.shape[1] / 2, top + piece.shape[0] / 2))
                shifts.append((dx, dy))
            else:
                doubts.append((left, top, left + piece.shape[1], top + piece.shape[0]))
    return np.array(places).reshape(-1, 2), np.array(shifts).reshape(-1, 2), doubts


def _has_dark_print(reference: Any, place: tuple[int, int, int, int]) -> bool:
    """Return whether there is print in a place that a picture without greys shows whatever its threshold is: more than
    a thin line across it, which may be lost."""
    left, top, right, bottom = place
    return bool(np.count_nonzero(reference[top:bottom, left:right] < SURELY_BLACK) > 2 * TILE)


def _measure_shift(piece: Any, grey: Any, left: int, top: int, reach: int) -> tuple[float, float, float] | None:
    """Measure where a piece is found again near its place: likeness, shift across, shift down."""
    high, wide = piece.shape
    x0, y0 = left - reach, top - reach
    x1, y1 = left + wide + reach, top + high + reach
    around = grey[max(y0, 0) : y1, max(x0, 0) : x1]
    if around.shape[0] < high + 2 or around.shape[1] < wide + 2:
        return None
    if cv2.meanStdDev(around)[1].item() < 1:
        return (0.0, 0.0, 0.0)
    scores = cv2.matchTemplate(around, piece, cv2.TM_CCOEFF_NORMED)
    _, best, _, (bx, by) = cv2.minMaxLoc(scores)
    dx, dy = bx - (left - max(x0, 0)), by - (top - max(y0, 0))
    return float(best), dx + _refine_peak(scores[by, :], bx), dy + _refine_peak(scores[:, bx], by)


def _refine_peak(line: Any, at: int) -> float:
    """Refine a peak: the top of a parabola through three values."""
    if not 0 < at < len(line) - 1:
        return 0.0
    a, b, c = (float(v) for v in line[at - 1 : at + 2])
    bend = a - 2 * b + c
    return 0.0 if abs(bend) < 1e-9 else min(max((a - c) / (2 * bend), -0.5), 0.5)


def _drop_odd_shifts(places: Points, shifts: Points) -> tuple[Points, Points]:
    """Drop pieces whose shift is unlike that of most pieces around them: where paper curls it differs from the rest of
    the page's by millimetres, but changes little from one piece to the next."""
    apart = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
    near = (apart < AROUND * TILE) & (apart > 0)
    alike = np.hypot(*(shifts[:, None, :] - shifts[None, :, :]).transpose(2, 0, 1)) < UNEVEN + STEEPEST * apart
    kept = 2 * np.count_nonzero(near & alike, axis=1) > np.count_nonzero(near, axis=1)
    return places[kept], shifts[kept]


def _smooth_shifts(places: Points, shifts: Points, degree: int, size: tuple[int, int], grid: Points) -> Points:
    """Fit a smooth field of shifts to those measured, at the places of a grid: a polynomial."""
    high, wide = size
    degree = degree if len(places) >= 3 * (degree + 1) * (degree + 2) // 2 else 1
    x, y = places[:, 0] / wide * 2 - 1, places[:, 1] / high * 2 - 1
    powers = [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]
    terms = np.stack([x**i * y**j for i, j in powers], axis=1)
    ridge = 0.02 * len(places) * np.diag([0.0 if i + j < 2 else 1.0 for i, j in powers])
    fitted = np.linalg.solve(terms.T @ terms + ridge + 1e-9 * np.eye(len(powers)), terms.T @ shifts)
    gx, gy = grid[0, :, 0] / wide * 2 - 1, grid[:, 0, 1] / high * 2 - 1
    out = np.zeros_like(grid)
    for (i, j), weight in zip(powers, fitted, strict=True):
        out += np.multiply.outer(gy**j, gx**i)[..., None] * weight
    return np.clip(out, -2 * REACH, 2 * REACH)


def _follow_neighbours(places: Points, shifts: Points, grid: Points) -> Points:
    """Take the shift at each place of a grid from the pieces around it."""
    some = grid[::4, ::4]
    far = ((some[:, :, None, :] - places) ** 2).sum(axis=3)
    weight = np.exp(-far / (2 * (1.1 * TILE) ** 2))
    there = (weight @ shifts) / (weight.sum(axis=2, keepdims=True) + 0.05)
    return np.asarray(cv2.resize(there, (grid.shape[1], grid.shape[0]), interpolation=cv2.INTER_CUBIC))
