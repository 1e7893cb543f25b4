"""Measure how long the axis and the stroke of a letter take. Run as a program: python -m tests.bench.axis [FACE…]"""

import string
import sys
import time

import numpy as np

from pipeline.geometry.medial.medial_axis import compute_medial_axis
from pipeline.geometry.medial.narrow_places import FIRST_TOLERANCE
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row
from tests.geometry.medial.narrowest import find_narrowest_stroke


def milliseconds(work) -> float:
    start = time.process_time()
    work()
    return (time.process_time() - start) * 1e3


def main(faces) -> None:
    print(f"{'face':<16}{'axis, ms: median':>18}{'worst':>8}{'stroke, ms: median':>21}{'worst':>8}")
    for name in faces:
        axes, strokes = [], []
        for character in f"{string.ascii_letters}{string.digits}&":
            shape = shape_row([open_face(name)], character).shapes[0].shape
            em = shape.units_per_em
            axes.append(
                milliseconds(
                    lambda s=shape, t=em * FIRST_TOLERANCE: compute_medial_axis(
                        build_polygon_from_outline(s.outline, t)
                    )
                )
            )
            strokes.append(milliseconds(lambda s=shape: find_narrowest_stroke(s.outline, s.cap_units, s.units_per_em)))
        print(f"{name:<16}{np.median(axes):18.1f}{max(axes):8.1f}{np.median(strokes):21.1f}{max(strokes):8.1f}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["eb-garamond", "noto-sans", "bodoni-moda", "great-vibes", "cinzel"])
