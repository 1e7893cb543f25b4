"""A run with a full cache gives the bytes of a run with an empty one, after any sequence of edits: a sample of
`python -m tests.long.kept_equals_fresh`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipeline.batch import PlaqueCache
from tests.kept_equals_fresh import Differs, Editing
from tests.order_keys import SAMPLES

SLICES = 4
STEPS, MOST = 30, 60
"""Least and most comparisons of a slice, some three edits each: it ends when each of its keys was changed in a run that
went well."""


@pytest.fixture
def environment(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "none"))


@pytest.fixture(scope="module")
def letters(tmp_path_factory):
    """Measure letters once for all orders."""
    return tmp_path_factory.mktemp("letters")


def editing(folder, seed: int, letters) -> Editing:
    """Each tries a sample of the keys."""
    return Editing(folder, seed, SAMPLES[seed % SLICES :: SLICES], letters)


@pytest.mark.parametrize("seed", range(SLICES))
def test_after_any_edit_kept_equals_fresh(environment, tmp_path, letters, seed):
    made = editing(tmp_path, seed, letters)
    keys = {sample.key for sample in made.samples}
    made.steps(STEPS)
    while not keys <= made.changed and made.statuses.total() < MOST:
        made.step()
    assert made.statuses[0] + made.statuses[1] >= 0.8 * made.statuses.total(), made.statuses
    assert made.statuses[1] and made.statuses[0], made.statuses
    assert keys <= made.changed


def test_a_key_that_leaves_out_what_the_list_says_is_found(environment, tmp_path, letters, monkeypatch):
    """The key as it once was: without the findings of a row, and so without its stops. A list alone shows it."""
    key = PlaqueCache.build_key

    def short(self, recipient):
        return key(self, replace(recipient, findings=()))

    monkeypatch.setattr(PlaqueCache, "build_key", short)
    with pytest.raises(Differs):
        Editing(tmp_path, 0, (), letters).steps(STEPS)
