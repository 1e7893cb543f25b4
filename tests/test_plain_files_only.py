"""A named pipe instead of a file would block when opened. Each is reported, or put aside, and nothing hangs."""

import os
import shutil
import signal
from pathlib import Path

import pytest

from pipeline.cli import main

FONT = next((Path(__file__).resolve().parent.parent / "fonts").rglob("NotoSans-Regular.ttf"))
ORDER = """
title = "Shore Wardens"
[list]
file = "list.csv"
[blank]
{blank}
thickness = 6.0
[[line]]
text = "{{name}}"
face = "{face}"
cap_height = 6.0
"""
SHAPE = 'shape = "disc"\ndiameter = 60.0'

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")


@pytest.fixture(autouse=True)
def alarm():
    """Interrupt anything that blocks, and the test with it."""

    def late(number, frame):
        raise TimeoutError("something waited for a pipe")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture
def order(tmp_path):
    (tmp_path / "list.csv").write_text("Name\nIda Vex\n", encoding="utf-8")
    (tmp_path / "order.toml").write_text(ORDER.format(blank=SHAPE, face="noto-sans"), encoding="utf-8")
    return tmp_path


def pipe(path: Path) -> Path:
    path.unlink(missing_ok=True)
    os.mkfifo(path)
    return path


@pytest.mark.parametrize("name", ["list.csv", "order.toml", "plate.dxf", "own.ttf"])
def test_a_pipe_among_the_files_of_an_order(order, capsys, name):
    if name == "plate.dxf":
        text = ORDER.format(blank='drawing = "plate.dxf"', face="noto-sans")
    else:
        text = ORDER.format(blank=SHAPE, face="own.ttf" if name == "own.ttf" else "noto-sans")
    (order / "order.toml").write_text(text, encoding="utf-8")
    pipe(order / name)
    for command in ("check", "run", "status"):
        assert main([command, str(order)]) == 2
        assert "a pipe, a device or a socket" in capsys.readouterr().err


@pytest.mark.parametrize("command", [["start"], ["run"], ["check"], ["faces", "--like"]])
def test_a_pipe_as_the_argument(tmp_path, capsys, command):
    ending = {"start": ".csv", "faces": ".png"}.get(command[0], ".toml")
    assert main([*command, str(pipe(tmp_path / f"given{ending}"))]) == 2
    assert "file" in capsys.readouterr().err


def test_a_device_as_the_list(capsys):
    assert main(["start", "/dev/zero"]) == 2
    assert "device" in capsys.readouterr().err


def test_pipes_where_results_stand(order, capsys):
    assert main(["run", str(order)]) == 0
    out = order / "out"
    written = sorted(path for path in out.rglob("*") if path.is_file())
    assert len(written) > 4
    for path in written:
        kept = path.read_bytes()
        pipe(path)
        for command in ("status", "release"):
            assert main([command, str(order)]) in (0, 1, 2), path
        assert main(["run", str(order)]) in (0, 2), path
        _, err = capsys.readouterr()
        assert "Traceback" not in err, (path, err)
        if not path.is_file():
            path.unlink()
            path.write_bytes(kept)
    assert main(["run", str(order)]) == 0
    shutil.rmtree(out)
