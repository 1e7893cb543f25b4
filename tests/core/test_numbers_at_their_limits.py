"""Numbers at their minimum and maximum, run to the end: a seeded sample of `python -m tests.long.number_limits`."""

import pytest

from tests.long.number_limits import attempt, cases


@pytest.mark.parametrize(("place", "value"), cases(seed=11, count=8), ids=str)
def test_every_limit_gives_an_answer_in_time(place, value):
    assert attempt(place, value) in ("ran", "refused")
