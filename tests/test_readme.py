"""The README tells the truth: what it names is there (commands, layers, the example order), what is there is named."""

import re
import subprocess
import sys
import tomllib
import typing
from pathlib import Path

import pytest

from pipeline.cli import build_parser, main
from pipeline.core.order import LineConfig, Order
from pipeline.outputs.cut_files.dxf.template import COLOURS

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def commands() -> set[str]:
    actions = build_parser()._subparsers._group_actions  # type: ignore[union-attr]
    return set(actions[0].choices)


def test_every_command_is_in_the_table_and_no_other():
    assert set(re.findall(r"^\| `plaques (\w+)", README, re.M)) == commands()


def test_the_example_order_is_one():
    text = re.search(r"```toml\n(.*?)```", README, re.S)[1]
    order = Order.model_validate(tomllib.loads(text), context={"mm": 1.0}, strict=False)
    assert order.line[0].cap_height == 11.0


def test_every_key_of_a_line_is_told():
    code = re.findall(r"`([^`\n]+)`|^(\w+) +=", README, re.M)
    told = {word for parts in code for word in re.findall(r"\w+", " ".join(parts))}
    assert set(LineConfig.model_fields) <= told


TABLES = ("limits", "finish", "reading", "proof", "files", "stock", "pocket", "pour", "board", "rates", "labels")


@pytest.mark.parametrize("table", TABLES)
def test_every_key_of_a_further_table_stands_in_its_row(table):
    kind = Order.model_fields[table].annotation
    model = next(t for t in (kind, *typing.get_args(kind)) if t is not type(None) and hasattr(t, "model_fields"))
    row = re.search(rf"^\| `\[{table}\]` \|(.*)\|$", README, re.M)[1]
    assert set(model.model_fields) <= set(re.findall(r"`(\w+)`", row))


def test_the_layer_table_has_the_colours_in_use():
    rows = re.findall(r"^\| ([A-Z_, ]+) \| ([\d, ]+) \|", README, re.M)
    told = {n: int(c) for names, colours in rows for n, c in zip(names.split(", "), colours.split(", "), strict=True)}
    assert told
    assert all(COLOURS[name] == colour for name, colour in told.items())


def test_ci_checks_style_and_types_and_ends_with_the_test_command_of_the_readme():
    command = re.search(r"```sh\n(.*pytest.*)\n```", README)[1]
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert lines[-1] == command
    assert lines.index("set -euo pipefail") < lines.index(".venv/bin/ruff check .") < lines.index(".venv/bin/mypy")
    assert not any("|| " in line or "set +e" in line for line in lines)


@pytest.mark.parametrize("command", sorted(commands()))
def test_every_command_has_help(command, capsys):
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert f"usage: plaques {command} " in capsys.readouterr().out


def test_the_program_has_help_that_names_every_command():
    done = subprocess.run(
        [sys.executable, "-m", "pipeline", "--help"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert done.stdout.startswith("usage: plaques ")
    assert commands() <= set(re.findall(r"\w+", done.stdout))
