"""The README is correct: what it names exists, and its first steps are word for word those that `start` prints."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from pipeline.cli import build_parsers, main
from pipeline.commands.first_steps import FIRST_STEPS, number_steps
from pipeline.core.config.order import Order
from pipeline.reference.pages import FOLDER, build_pages

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = sorted(build_parsers()[1])


def one_line(text):
    return " ".join(text.split())


def test_every_command_it_names_is_one_with_these_options():
    named = re.findall(r"`plaques ([a-z]+)([^`]*)`", README)
    assert {name for name, _ in named} >= {"start", "check", "run", "sign", "release", "explain"}
    for name, rest in named:
        known = {option for action in build_parsers()[1][name].arguments for option in action.option_strings}
        assert set(re.findall(r"--[a-z-]+", rest)) <= known, name


def test_the_example_order_is_one():
    text = re.search(r"```toml\n(.*?)```", README, re.S)[1]
    order = Order.model_validate(tomllib.loads(text), context={"mm": 1.0}, strict=False)
    assert order.line[0].cap_height == 11.0


def test_the_first_steps_are_word_for_word_those_that_start_prints(tmp_path, capsys):
    section = README.partition("## A first order of your own")[2].partition("\n## ")[0]
    written = [one_line(step) for step in re.findall(r"^\d\. (.*?)(?=^\d\. |^\n|\Z)", section, re.M | re.S)]
    assert written == list(FIRST_STEPS) and len(written) == 6
    (tmp_path / "names.csv").write_text("Name\nAda Skua\n", encoding="utf-8")
    assert main(["start", str(tmp_path / "names.csv")]) == 0
    said = capsys.readouterr().out
    assert number_steps() in said
    assert all(f"{n}. {step}" in one_line(said) for n, step in enumerate(FIRST_STEPS, 1))
    assert "an order for 1 recipient." in said


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_every_file_it_links_to_is_there(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    links = [target for target in re.findall(r"\]\(([^)#]+)[^)]*\)", text) if "://" not in target]
    assert links or name == "DEVELOPERS.md"
    assert [target for target in links if not (ROOT / target).exists()] == []


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_every_path_it_names_is_there(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    paths = re.findall(r"`(?:python )?((?:pipeline|tests|sample_orders|fonts)/[\w./-]*)`", text)
    assert paths
    assert [path for path in paths if not (ROOT / path).exists() and not path.endswith("/out")] == []


def test_it_links_to_every_page_of_the_reference():
    assert all(f"({(FOLDER / name).relative_to(ROOT)})" in README for name in build_pages())


def test_ci_checks_style_and_types_and_ends_with_the_test_command_of_the_readme():
    command = re.search(r"```sh\n(.*pytest.*)\n```", README)[1]
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert lines[-1] == command
    assert lines.index("set -euo pipefail") < lines.index(".venv/bin/ruff check .") < lines.index(".venv/bin/mypy")
    assert not any("|| " in line or "set +e" in line for line in lines)


@pytest.mark.parametrize("command", COMMANDS)
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
    assert set(COMMANDS) <= set(re.findall(r"\w+", done.stdout))
