"""Outputs of a run: the files in its folder, and what is read back, are determined by the entries alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.core.storage.files import remove_unfinished
from pipeline.output_kinds import OUTPUTS, UNFINISHED
from pipeline.run import run_order
from tests.test_every_stop import BOARD, Job, names

DEAD = 2**22 + 1
"""No process has this number (the most on Linux is 2^22)."""


@pytest.fixture(scope="module")
def job(tmp_path_factory) -> Job:
    job = Job(tmp_path_factory.mktemp("outputs"))
    job.write(names("Ida Vex"), end=BOARD)
    return job


def files_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir() if path.is_file()}


@pytest.mark.parametrize("checking", [True, False])
def test_each_file_in_the_output_folder_belongs_to_an_output(job, tmp_path, checking):
    run_order(job.folder, out=tmp_path, workers=1, files=not checking)
    kinds = [kind for kind in OUTPUTS if kind.files and (kind.when_checking or not checking)]
    written = {name: [kind.files for kind in kinds if re.fullmatch(kind.files, name)] for name in files_in(tmp_path)}
    assert all(len(patterns) == 1 for patterns in written.values()), written
    assert len(written) == len(kinds)  # and each output has written its file


def test_unfinished_files_of_any_output_are_removed(tmp_path):
    begun = {"check.xlsx", "report.json", "proof.pdf", "proof-12.pdf", "shop.pdf"}
    kept = {f".notes.txt.{DEAD}.part", f".proof-x.pdf.{DEAD}.part", "check.xlsx"}
    for name in {f".{name}.{DEAD}.part" for name in begun} | kept:
        (tmp_path / name).write_bytes(b"half")
    remove_unfinished(tmp_path, UNFINISHED)
    assert files_in(tmp_path) == kept


def test_the_accounts_of_each_output_miss_what_is_not_there(job, tmp_path):
    """An empty folder: each output whose pieces are counted is reported as missing."""
    done = run_order(job.folder, workers=1)
    silent = {
        kind.files or kind.stage for kind in OUTPUTS if not list(kind.account(done.outcome, done.revision, tmp_path))
    }
    assert silent == {r"shop\.pdf", "shop sheet"}  # boards hold signed pieces only; their own list names them
