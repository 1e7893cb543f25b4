"""A sample of the kills and of the concurrent commands; all of it: `python -m tests.long.ledger_faults`."""

from __future__ import annotations

import os

import pytest

from tests.long.ledger_faults import COMMANDS, at_once, disks, kills, marks_at_once

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are begun as copies of this one"),
]


def test_a_kill_at_any_moment_loses_no_row_miscounts_no_piece_and_leaves_no_partial_file():
    found = kills(len(COMMANDS), seed=20261129)
    assert found.sound, str(found)
    assert found.killed >= found.tries - 1 and found.by_command.keys() == COMMANDS.keys()


def test_four_commands_at_once_lose_and_miscount_nothing():
    found = at_once(1, seed=20261129)
    assert found.sound, str(found)


def test_two_that_mark_the_same_pieces_at_once_mark_each_piece_once():
    found = marks_at_once(1, seed=20261130)
    assert found.sound, str(found)


def test_a_disk_that_takes_nothing_or_is_full_leaves_nothing_half_done():
    found = disks(3, seed=20261130)
    assert found.sound and found.killed >= 2, str(found)
