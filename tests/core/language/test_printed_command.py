"""Printed commands survive the shell that they are typed in."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.cli import build_parser, main
from pipeline.core.language.printed_command import format_argument, format_command

NAMES = (
    "list.csv",
    "Ona's list (2026).csv",
    'a "b" $HOME `id`.csv',
    "late!names;*?.csv",
    "O’Neill & Söhne.xlsx",
    "-",
    "",
    "back\\slash.csv",
)


@pytest.mark.parametrize("name", NAMES)
def test_a_posix_shell_reads_every_argument_back(name):
    shown = format_command(sys.executable, "-c", "import sys; print(sys.argv[1:])", name, system="posix")
    run = subprocess.run(["/bin/sh", "-c", shown], capture_output=True, text=True, check=True)
    assert run.stdout == f"{[name]}\n"


def read_powershell(shown):
    """Read one argument like PowerShell: by its language specification, 2.3.5.2, two apostrophes of any kind stand
    for one within a quoted string."""
    if not shown.startswith("'"):
        assert not re.search(r"[\s'\"`$(){};,|&<>@#*?!\u2018-\u201b]", shown)
        return shown
    inside = shown[1:-1]
    assert shown[-1] == "'"
    assert not re.search("['\u2018-\u201b]", re.sub("(['\u2018-\u201b])\\1", "", inside))
    return re.sub("(['\u2018-\u201b])\\1", r"\1", inside)


@pytest.mark.parametrize("name", (*NAMES, "C:\\Users\\Ona\\new list.csv", "C:\\orders\\list.csv"))
def test_powershell_reads_every_argument_back(name):
    assert read_powershell(format_argument(name, "nt")) == name


@pytest.mark.parametrize("path", ["-list.csv", "--version", "-", "-folder/list.csv", "--shop"])
def test_a_path_that_begins_with_a_hyphen_is_not_an_option(path):
    command, shown = format_command("plaques", "start", Path(path), system="posix").split(" ", 1)
    assert (command, shown) == ("plaques", f"start ./{path}")
    assert build_parser().parse_args(["start", *shown.split()[1:]]).list == Path(path)


def test_the_command_for_a_list_with_an_odd_name_can_be_typed_as_it_is_printed(tmp_path, capsys):
    folder = tmp_path / "Ona's job"
    folder.mkdir()
    (folder / "the list.csv").write_text("Name\nIda Vex\n", encoding="utf-8")
    for asked in (folder, folder / "the list.csv"):
        assert main(["check", str(asked)]) == 2
        (shown,) = re.findall("`(plaques .*?)`", capsys.readouterr().err.replace("\n", " "))
        run = subprocess.run(
            ["/bin/sh", "-c", f'plaques() {{ for word; do echo "$word"; done; }}; {re.sub(" +", " ", shown)}'],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert run.stdout.splitlines() == ["start", str(Path(folder, "the list.csv"))]
