"""An internal error ends with exit status 3 and a few lines that say so, wherever it occurs; the traceback is in a
file."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import cli
from tests.bench.orders import write_order

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def order(tmp_path) -> Path:
    return write_order(tmp_path / "order", ["Ada Tern", "Una Gull"])


def failing(*given, **named):
    raise ZeroDivisionError("division\x1b[2J by \u202enought\nin the last line")


def told(capsys) -> tuple[str, Path]:
    """Return the output, and the file it names."""
    out, err = capsys.readouterr()
    assert out == ""
    return err, Path(re.search(r"Please send (.+) to the makers", err)[1])


def test_any_command_that_fails_ends_with_3(order, monkeypatch, capsys):
    monkeypatch.setattr("pipeline.order_inputs.read_order", failing)
    for words in (["run", str(order)], ["check", str(order)], ["release", str(order)], ["status", str(order)]):
        assert cli.main([*words]) == 3
        said, file = told(capsys)
        assert "fault of the tool itself, not of the order: ZeroDivisionError: division␛[2J by �nought␊in the" in said
        assert not re.search("[\x1b\u202e]", said) and "Traceback" not in said and len(said.splitlines()) == 3
        trace = file.read_text(encoding="utf-8")
        assert "Traceback" in trace and "read_order" in trace
    monkeypatch.setattr(cli, "build_parser", failing)
    assert cli.main(["cutters"]) == 3


def test_an_internal_error_in_another_process_ends_with_3(order, monkeypatch, capsys):
    """The proof is drawn in a separate process."""
    monkeypatch.setattr("pipeline.outputs.proof.proof.write_proofs", failing)
    assert cli.main(["run", str(order), "--workers", "2"]) == 3
    said, file = told(capsys)
    assert "ZeroDivisionError" in file.read_text(encoding="utf-8") and "a fault of the tool" in said
    assert not (order / "out" / "proof.pdf").exists()


def test_where_no_file_can_be_written_the_traceback_is_shown(order, monkeypatch, capsys, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    monkeypatch.setattr("pipeline.commands.cutters_command.list_cutters", failing)
    assert cli.main(["cutters"]) == 3
    said = capsys.readouterr().err
    assert "Traceback" in said and not re.search("[\x1b\u202e]", said)


def test_a_process_ends_with_3(tmp_path):
    """The program itself, and one whose modules can't be read."""
    for broken in (
        "import pipeline.commands.cutters_command; pipeline.commands.cutters_command.list_cutters = None",
        "sys.modules['pipeline.core.errors'] = None",
    ):
        code = f"import sys, pipeline.__main__ as it\n{broken}\nsys.argv = ['', 'cutters']\nsys.exit(it.run_program())"
        ended = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
        assert ended.returncode == 3, ended.stderr
        assert ended.stdout == "" and ended.stderr


def test_an_interrupted_run_is_not_an_internal_error(order, monkeypatch, capsys):
    def stopped(*given, **named):
        raise KeyboardInterrupt

    monkeypatch.setattr("pipeline.order_inputs.read_order", stopped)
    assert cli.main(["run", str(order)]) == 2
    assert "stopped by you" in capsys.readouterr().err
