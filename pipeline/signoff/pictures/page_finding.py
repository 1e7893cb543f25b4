"""Identification of a page in a picture by the mark in its corner, and its position there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from pipeline.outputs.proof.page_mark import PageMark, read_page_mark
from pipeline.signoff.pictures.empty_pages import EmptyPage, EmptyProof
from pipeline.signoff.pictures.page_straightening import (
    FOUND_AT,
    PageFeatures,
    Points,
    find_features,
    find_page,
)
from pipeline.signoff.pictures.picture_files import Pixels

SIZES = (1800, 2400, 3000, 1300)
"""Longer sides at which a mark is looked for, pixels: a camera's noise hides it in more, less shows no modules."""
LONGEST = 1_300
"""Longer side at which features are looked for in a picture."""
SURE = 90
"""Fewest matches for the quick method."""
MODULE = 8
"""Pixels of a module when a mark is compared by its pattern."""
SAME_MARK, APART = 0.6, 0.2
"""Correlation of a mark's pattern with that of the page it is of, and how much less those of all others have. Marks of
two pages share about half of their modules."""
CURLED = 10
"""Modules by which a mark may be beside its place where the paper curls: 5 mm."""
BLANK_LIGHT, BLANK_CONTRAST = 120, 10
"""Of 255: how light a page with nothing on it is at least, and how much places close by may differ."""
FEW_PAGES = 4
"""Pages of a proof by which a picture without a readable mark is straightened."""

Proofs = Mapping[tuple[str, int], EmptyProof]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FoundPage:
    """A page and where it lies: the homography from the page to the picture."""

    proof: tuple[str, int]
    page: EmptyPage
    matrix: Points


@dataclass(frozen=True, slots=True, kw_only=True)
class NoPage:
    """The reason why a picture can't be read. mark: the content of its mark, where it was read."""

    why: str
    mark: PageMark | None = None


class PageFinder:
    """Finds pages of given proofs; results for one picture are reused for the next."""

    def __init__(self, proofs: Proofs, order_id: str) -> None:
        self._proofs, self._order_id = proofs, order_id
        self._features: dict[tuple[tuple[str, int], int, bool], PageFeatures] = {}

    def find(self, picture: Pixels) -> FoundPage | NoPage:
        """Find the page that a picture shows."""
        marks = _read_marks(picture)
        if len(marks) > 1:
            return NoPage(why="it shows more than one page: one page to a picture")
        if marks:
            return self._find_marked_page(next(iter(marks)), picture)
        told = self._find_by_pattern(picture)
        if told is None:
            return NoPage(why=_describe_unknown(picture))
        return self._find_marked_page(told, picture)

    def _find_marked_page(self, mark: PageMark, picture: Pixels) -> FoundPage | NoPage:
        if mark.order_id != self._order_id:
            return NoPage(why=f"it is a page of another order, {mark.order_id}", mark=mark)
        key = (mark.revision, mark.volume)
        proof = self._proofs.get(key)
        if proof is None:
            return NoPage(why=f"it is a page of proof {mark.revision}, of which no copy lies in “sent”", mark=mark)
        if not 1 <= mark.page <= proof.size or proof.get_mark(mark.page) != mark:
            return NoPage(why=f"it is a page of another proof under the letter {mark.revision}", mark=mark)
        page = proof.get_page(mark.page)
        for quick, enough in ((True, SURE), (False, 0)):
            features = find_features(picture, LONGEST, quick=quick)
            matrix, count = find_page(self._get_features(key, mark.page, quick), features, page.look.shape[:2])
            if (
                matrix is not None
                and count >= enough
                and _measure_likeness(_cut_out_pattern(picture, matrix, page, CURLED), page.modules) >= 0.35
            ):
                return FoundPage(proof=key, page=page, matrix=matrix)
        return NoPage(why=f"page {mark.page} cannot be laid over the page as it was made", mark=mark)

    def _get_features(self, key: tuple[str, int], number: int, quick: bool) -> PageFeatures:
        if (key, number, quick) not in self._features:
            look = self._proofs[key].get_page(number).look
            self._features[key, number, quick] = find_features(look, FOUND_AT * max(look.shape), quick=quick)
        return self._features[key, number, quick]

    def _find_by_pattern(self, picture: Pixels) -> PageMark | None:
        """Find the page by its mark's pattern, where the mark can't be decoded: the page is aligned with another page
        of the proof, since all share the same frame, and its mark compared with those of all pages."""
        features = find_features(picture, LONGEST, quick=False)
        for key, proof in self._proofs.items():
            tried = []
            for number in dict.fromkeys((*range(min(FEW_PAGES, proof.size), 0, -1), proof.size)):
                page = proof.get_page(number)
                matrix, count = find_page(self._get_features(key, number, False), features, page.look.shape[:2])
                if matrix is not None:
                    tried.append((count, matrix, page))
            for _, matrix, page in sorted(tried, key=lambda t: -t[0])[:2]:
                found = _cut_out_pattern(picture, matrix, page)
                scores = sorted(
                    ((_measure_likeness(found, proof.get_page(n).modules), n) for n in range(1, proof.size + 1)),
                    reverse=True,
                )
                second = scores[1][0] if scores[1:] else 0.0
                if scores[0][0] >= SAME_MARK and scores[0][0] - second >= APART:
                    return proof.get_mark(scores[0][1])
        return None


def is_blank(picture: Pixels) -> bool:
    """Return whether a picture shows paper with nothing on it, such as the backs of pages in a scan."""
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    scale = min(1.0, 900 / max(grey.shape))
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA).astype(np.float32)
    edge_y, edge_x = (length // 20 for length in small.shape)
    body = small[edge_y : small.shape[0] - edge_y, edge_x : small.shape[1] - edge_x]
    apart = np.abs(body - cv2.GaussianBlur(body, (0, 0), 12))
    return bool(np.percentile(body, 2) >= BLANK_LIGHT and apart.max() < BLANK_CONTRAST)


def _measure_light_and_sharpness(picture: Pixels) -> tuple[float, float]:
    """Measure how light the light parts are, and the contrast of the sharpest edges."""
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, None, fx=(s := min(1.0, 1600 / max(grey.shape))), fy=s, interpolation=cv2.INTER_AREA)
    edges = np.abs(cv2.Laplacian(cv2.GaussianBlur(small, (0, 0), 1.0), cv2.CV_32F))
    return float(np.percentile(small, 90)), float(np.percentile(edges, 99.8))


def _read_marks(picture: Pixels) -> set[PageMark]:
    """Read the page marks in a picture."""
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    for size in SIZES:
        scale = size / max(grey.shape)
        way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        look = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=way)
        readers = (
            (cv2.QRCodeDetectorAruco(), cv2.QRCodeDetector()) if size == max(SIZES) else (cv2.QRCodeDetectorAruco(),)
        )
        for reader in readers:
            try:
                found, texts, _, _ = reader.detectAndDecodeMulti(look)
            except cv2.error:  # OpenCV fails on some pictures
                continue
            marks = {mark for text in texts or () if (mark := read_page_mark(text)) is not None} if found else set()
            if marks:
                return marks
    return set()


def _cut_out_pattern(picture: Pixels, matrix: Points, page: EmptyPage, around: int = 2) -> Any:
    """Cut the mark out of the picture, straightened, with so many modules of space around it."""
    count = len(page.modules)
    left, top, right, bottom = page.mark
    module = (right - left) / count
    side = (count + 2 * around) * MODULE
    steps = (np.arange(side) + 0.5) / MODULE - around
    x, y = np.meshgrid(left + steps * module, top + steps * (bottom - top) / count)
    at = np.dstack([x, y]).reshape(-1, 1, 2).astype(np.float64)
    where = cv2.perspectiveTransform(at, matrix).reshape(side, side, 2).astype(np.float32)
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    return cv2.remap(grey, where[..., 0], where[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def _measure_likeness(found: Any, modules: NDArray[np.uint8]) -> float:
    """Measure the best correlation of a mark's pattern with what a picture shows near its place."""
    pattern = np.kron(1 - modules, np.ones((MODULE, MODULE), np.uint8)).astype(np.float32) * 255
    if found.shape[0] < pattern.shape[0] + 2 or float(found.std()) < 2:
        return 0.0
    soft = cv2.GaussianBlur(pattern, (0, 0), MODULE / 4)
    return float(cv2.matchTemplate(found.astype(np.float32), soft, cv2.TM_CCOEFF_NORMED).max())


def _describe_unknown(picture: Pixels) -> str:
    """Return why no page was found in a picture."""
    light, sharp = _measure_light_and_sharpness(picture)
    if light < 60:
        return "it is too dark: no mark of a proof can be read in it"
    if sharp < 25:
        return "it is too blurred: no mark of a proof can be read in it"
    return "no mark of a proof (the square of dots at the foot of each page) can be read in it"
