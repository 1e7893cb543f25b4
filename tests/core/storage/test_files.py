"""Files are whole or absent; what a killed run left unfinished is removed by the next one."""

import errno
import os
import re
import subprocess
from pathlib import Path

import pytest

from pipeline.core.errors import CannotRun
from pipeline.core.storage.files import remove_unfinished, require_writable_order, write_whole

OURS = re.compile(r"\.proof\.pdf\.(\d+)\.part")


def test_a_file_is_replaced_whole_and_nothing_stays_beside_it(tmp_path):
    target = tmp_path / "deep" / "proof.pdf"
    write_whole(target, b"first")
    write_whole(target, b"second")
    assert target.read_bytes() == b"second"
    assert [p.name for p in target.parent.iterdir()] == ["proof.pdf"]


def test_a_folder_in_the_way_is_reported_and_nothing_is_left(tmp_path):
    (tmp_path / "proof.pdf").mkdir()
    with pytest.raises(CannotRun, match="cannot be written"):
        write_whole(tmp_path / "proof.pdf", b"x")
    assert [p.name for p in tmp_path.iterdir()] == ["proof.pdf"]


def test_only_unfinished_files_of_our_dead_processes_are_removed(tmp_path):
    dead = subprocess.Popen(["true"])
    dead.wait()
    gone = tmp_path / f".proof.pdf.{dead.pid}.part"
    stay = [tmp_path / f".proof.pdf.{os.getppid()}.part", tmp_path / f".mine.pdf.{dead.pid}.part", tmp_path / "a.part"]
    for file in (gone, *stay):
        file.write_bytes(b"half")
    remove_unfinished(tmp_path, OURS)
    assert not gone.exists()
    assert all(file.exists() for file in stay)
    remove_unfinished(tmp_path / "nowhere", OURS)


@pytest.mark.parametrize("name", ["", "sent"])
def test_an_order_folder_that_cannot_be_written_is_reported(tmp_path, monkeypatch, name):
    """As a read-only disk answers: 30 is EROFS (POSIX errno.h)."""
    (tmp_path / "sent").mkdir()
    barred, write = tmp_path / name, Path.write_bytes

    def refuse(path, data):
        if path.parent == barred:
            raise OSError(errno.EROFS, "Read-only file system")
        return write(path, data)

    require_writable_order(tmp_path, ("ledger", "sent"))
    monkeypatch.setattr(Path, "write_bytes", refuse)
    with pytest.raises(CannotRun) as refused:
        require_writable_order(tmp_path, ("ledger", "sent"))
    assert str(barred) in str(refused.value) and "--out" not in str(refused.value)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["sent"]
