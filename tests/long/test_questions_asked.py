"""A small slice of `python -m tests.long.questions_asked`: dates are no questions, advice on a design holds."""

from __future__ import annotations

import random
from pathlib import Path

from tests.long.questions_asked import DESIGNS, brass_plates, count_asked, troubled


def test_dates_of_many_plates_ask_the_client_nothing_or_once(tmp_path: Path) -> None:
    """Thirty plates once asked 60 questions, one for each cell with a date."""
    asked = count_asked(brass_plates(random.Random(19), 8), tmp_path, follow=False)
    assert asked.plaques == 8 and asked.questions <= 1


def test_advice_on_a_design_that_is_said_holds(tmp_path: Path) -> None:
    asked = count_asked(troubled(random.Random(19), DESIGNS[6], 6), tmp_path, follow=True)
    assert asked.tried == asked.right >= 1
