"""A short stroke of a pen on a letter changes it: it is a remark, in pictures with few pixels too. A speck is not.

How people correct a letter is common practice, no source. `python -m tests.long.letter_marks` tries many more pages.
"""

from __future__ import annotations

import random

import pytest

cv2 = pytest.importorskip("cv2", reason="OpenCV (pip install -e '.[pictures]')")

from pipeline.cli import main  # noqa: E402
from pipeline.signoff.pictures.empty_pages import MM  # noqa: E402
from tests.long.letter_marks import try_corrections  # noqa: E402
from tests.long.pictured_answers import Writer  # noqa: E402
from tests.signoff.pictures.test_page_reading import DIRT, make_page, mm, read  # noqa: E402
from tests.test_every_stop import Job, names  # noqa: E402

FINER = 1.5


def is_seen(seed: int, pen: str, scale: float, *, rise: float = 2.0) -> bool:
    """Return whether a stroke is a remark that begins on a letter of a word and rises by so many mm. scale: of the
    picture to the page as it is read."""
    page, chance = make_page(), random.Random(seed)
    finer = cv2.resize(page.look, None, fx=FINER, fy=FINER, interpolation=cv2.INTER_CUBIC)
    x, y = chance.choice(range(14, 92, 15)) + chance.uniform(0.5, 10), chance.choice(range(16, 88, 9)) - 1.2
    ends = [(x, y), (x + chance.uniform(0.8, 1.5), y - rise)]
    Writer(finer, chance, pen).line([(a * FINER * MM, b * FINER * MM) for a, b in ends])
    picture = cv2.resize(finer, page.look.shape[1::-1], interpolation=cv2.INTER_AREA)
    return bool(read(page, picture, scale=scale).remarks)


@pytest.mark.parametrize(("pen", "scale"), [("blue ball pen", 0.9), ("red pen", 1.4)])
def test_a_short_stroke_on_a_letter_is_a_remark(pen, scale):
    """Where it lies on print all along, nothing is left of it to be seen."""
    seen = [is_seen(n, pen, scale) for n in range(8)]
    assert sum(seen) >= 5, seen


@pytest.mark.parametrize("scale", [0.9, 1.4])
def test_a_speck_among_letters_is_dirt_in_a_soft_picture(scale):
    """In a sharp one it may be a letter's dot."""
    page = make_page()
    picture = page.look.copy()
    cv2.ellipse(picture, (mm(16, 35.2), (4, 3), 20.0), DIRT, -1, cv2.LINE_AA)
    assert not read(page, picture, scale=scale).remarks


def test_corrections_on_a_proof_are_seen(tmp_path):
    """A slice of the long run: three scans, a copy and two photographs, every other page corrected."""
    job = Job(tmp_path / "order")
    job.folder.mkdir()
    job.write(names("Ida Vex", "Bo Skua", "Una Tern", "Odd Marram"))
    assert main(["run", str(job.folder)]) == 0
    proofs = {"proof": (job.folder / "sent/proof-A.pdf").read_bytes()}
    told = try_corrections(proofs, 6, 21)
    corrected = {seen: sum(n for (kind, _, s), n in told.items() if kind != "clean" and s == seen) for seen in (0, 1)}
    assert corrected[1] >= 2 > corrected[0], told
    assert sum(n for (kind, _, seen), n in told.items() if kind == "clean" and seen) <= 1, told
