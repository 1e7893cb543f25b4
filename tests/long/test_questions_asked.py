"""A small sample of `python -m tests.long.questions_asked`: dates raise no questions, advice on a design works."""

from __future__ import annotations

import random
from pathlib import Path

from tests.long.questions_asked import DESIGNS, brass_plates, count_asked, troubled


def test_dates_of_many_plates_raise_at_most_one_question(tmp_path: Path) -> None:
    """Thirty plates used to raise 60 questions, one for each cell with a date."""
    asked = count_asked(brass_plates(random.Random(19), 8), tmp_path, follow=False)
    assert asked.plaques == 8 and asked.questions <= 1


def test_advice_offered_on_a_design_works(tmp_path: Path) -> None:
    asked = count_asked(troubled(random.Random(19), DESIGNS[6], 6), tmp_path, follow=True)
    assert asked.tried == asked.right >= 1
