"""A killed run leaves whole files or none, and the next run completes them. `kill_run.py` does the same to whole
runs of any size."""

import os
import random
import signal
import time

import pytest

from pipeline.core.config.order import FilesConfig
from pipeline.core.storage.cache import Cache
from pipeline.outputs.cut_files.cut_files import CutFiles
from tests import builders
from tests.outputs.kill_run import files_in, partial

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are not started by forking here")

FITTED = Cache(None)
NAMES = [f"{a}{b}" for a in ("Ada", "Ben", "Cy", "Dot", "Eve", "Flo") for b in ("na", "by", "ra", "lo", "ti")]


@pytest.fixture(scope="module")
def plaques():
    """Return thirty small plaques."""
    out = []
    for row, name in enumerate(NAMES, 5):
        out.append(builders.plaque(row, name, stem="NotoSans"))
    return out


def run(target, plaques) -> None:
    files = CutFiles(
        builders.folder(files=FilesConfig(also=["svg"])), builders.slanted_blank(), target, "0.1.0", FITTED
    )
    for plaque in plaques:
        assert files.make(plaque).cut_file
    files.finish()


def killed(target, plaques, after: float) -> bool:
    """Run in a separate process that the system ends after that much processor time, however busy the machine is;
    return whether it was still at work."""
    child = os.fork()
    if child == 0:
        try:
            signal.signal(signal.SIGPROF, signal.SIG_DFL)  # ends a process at once, like SIGKILL
            signal.setitimer(signal.ITIMER_PROF, after)
            run(target, plaques)
            os._exit(0)
        finally:
            os._exit(1)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def test_a_killed_run_leaves_whole_files_and_the_next_one_completes(tmp_path, plaques):
    run(tmp_path / "warm", plaques)  # letters are fitted only once
    start = time.process_time()
    run(tmp_path / "whole", plaques)
    took = time.process_time() - start
    whole = files_in(tmp_path / "whole")
    assert len(whole) == 2 * len(NAMES) + 1
    moments, caught = random.Random(20), 0
    for number in range(4):
        target = tmp_path / f"{number}"
        caught += killed(target, plaques, (0.1 + 0.6 * moments.random()) * took)
        left = files_in(target)
        assert partial(left, whole) == []
        run(target, plaques)
        after = {str(p.relative_to(target)): p.read_bytes() for p in target.rglob("*") if p.is_file()}
        assert after == whole  # and no unfinished file is left beside them
    assert caught  # at least one was at work


def test_a_partial_file_would_be_noticed(tmp_path, plaques):
    run(tmp_path, plaques[:2])
    whole = files_in(tmp_path)
    name = next(n for n in whole if n.endswith(".dxf"))
    assert partial({name: whole[name][:-100]}, whole) == [name]
    assert partial({"cut/more.dxf": b""}, whole) == ["cut/more.dxf"]
    assert partial({"cut/written.sha256": whole["cut/written.sha256"][:-9]}, whole) == ["cut/written.sha256"]
    assert partial(dict(list(whole.items())[:2]), whole) == []
