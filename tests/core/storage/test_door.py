"""The door for foreign files: a fault of a reader costs only that reader."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Severity
from pipeline.core.storage import door
from pipeline.core.storage.door import Bounds, read_apart, read_foreign_bytes
from pipeline.geometry.curves import Chain


def given(value):
    return value


def without_end():
    while True:
        pass


def all_memory():
    return sum(len(bytearray(50_000_000)) for _ in iter(list, None))


def held_memory():
    return [bytearray(50_000_000) for _ in range(40)]


def dies():
    os.kill(os.getpid(), signal.SIGSEGV)


def raises(error):
    raise error


def nested(depth):
    return [] if depth == 0 else [nested(depth - 1)]


def refused(read, *what, **bounds):
    with pytest.raises(CannotRun) as error:
        read_apart(read, *what, where="list.xlsx", bounds=Bounds(**bounds))
    (fault,) = error.value.faults
    assert fault.where == "list.xlsx" and fault.remedy
    return fault.found


def test_the_reader_s_result_is_returned_unchanged():
    plain = {"a": (1, 2.5, "ö"), "b": [None, True], "c": frozenset({1})}
    assert read_apart(given, plain, where="x") == plain
    chain = read_apart(given, Chain(np.array([[0.0, 1.0, 0.5]])), where="x")
    assert isinstance(chain, Chain) and chain.vertices.tolist() == [[0.0, 1.0, 0.5]]
    assert read_apart(given, Severity.STOP, where="x") is Severity.STOP
    assert read_apart(given, Path("a/b"), where="x") == Path("a/b")


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited where the system can")
def test_memory_has_a_limit():
    assert "more than 100 MB of memory" in refused(held_memory, memory_mb=100)


def test_time_has_a_limit():
    begun = time.process_time()
    assert "more than 1 seconds" in refused(without_end, seconds=1)
    assert time.process_time() - begun < 1.0  # this process only waited


def test_whatever_goes_wrong_is_a_clear_error():
    assert "break down" in refused(dies)
    assert "KeyError: 'xl/styles.xml'" in refused(raises, KeyError("xl/styles.xml"))
    assert "nested too deeply" in refused(nested, 100_000)
    fault = Fault(where="row 7", found="no name")
    with pytest.raises(CannotRun) as error:
        read_apart(raises, CannotRun(fault), where="x")
    assert error.value.faults == (fault,)


def test_nothing_executable_is_returned():
    """An answer that names a function is rejected: only a compromised process would send one."""
    for hostile in (
        b"\x80\x04\x95\x1f\x00\x00\x00\x00\x00\x00\x00\x8c\x05posix\x94\x8c\x06system\x94\x93\x94\x8c\x04true\x94\x85\x94R\x94.",
        b"cpipeline.core.files\nwrite_whole\n.",
        b"cbuiltins\neval\n(S'1'\ntR.",
    ):
        with pytest.raises(OSError, match="not an answer"):
            door._load(hostile)


def test_a_file_is_checked_before_it_is_opened(tmp_path):
    os.mkfifo(tmp_path / "pipe.pdf")
    (tmp_path / "big.pdf").write_bytes(b"x" * 2_000_000)
    for name, found in (("pipe.pdf", "a pipe"), ("no.pdf", "No such file"), (".", "a folder"), ("big.pdf", "1 MB")):
        with pytest.raises(CannotRun, match=found):
            read_foreign_bytes(tmp_path / name, "the proof that came back", 1)
    assert len(read_foreign_bytes(tmp_path / "big.pdf", "the proof", 2)) == 2_000_000
