"""The libraries that the tool requires: each explained in one table, each used."""

from __future__ import annotations

import ast
import re
import tomllib
from importlib import import_module
from importlib.metadata import distributions, packages_distributions
from pathlib import Path

ROOT = Path(__file__).parents[1]
LIBRARY = re.compile(r"[A-Za-z0-9_-]+")
COMES_WITH = {"pydantic-core": "pydantic"}
"""Packages that another one brings and whose documentation says to import from them."""


def plain(name: str) -> str:
    return name.lower().replace("_", "-")


def asked_for() -> set[str]:
    """Return the required libraries, and those required for pictures only."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = [*project["dependencies"], *project["optional-dependencies"]["pictures"]]
    return {plain(LIBRARY.match(line)[0]) for line in lines}


def not_here() -> set[str]:
    """Return optional libraries that aren't installed."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = {LIBRARY.match(line)[0] for line in project["optional-dependencies"]["pictures"]}
    return {plain(name) for name in named if not any(True for _ in distributions(name=name))}


def modules() -> list[tuple[Path, ast.Module]]:
    return [(p, ast.parse(p.read_text(encoding="utf-8"))) for p in sorted((ROOT / "pipeline").rglob("*.py"))]


def imports(tree: ast.Module) -> list[tuple[str, list[str]]]:
    """Return modules of other packages, and the names used of each."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, []) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.append((node.module, [alias.name for alias in node.names]))
    return [(name, names) for name, names in found if name.partition(".")[0] not in ("pipeline", "__future__")]


def test_the_installed_command_exists():
    """The entry point that `pip install` creates for `plaques` can be called."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    module, _, function = project["scripts"]["plaques"].partition(":")
    assert callable(getattr(import_module(module), function))


def test_every_library_has_its_line_in_the_table():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.partition("## Libraries\n")[2].partition("\n## ")[0]
    lines = [line.strip("|") for line in table.splitlines() if line.startswith("| ")]
    rows = [[cell.strip() for cell in line.split("|")] for line in lines]
    assert {plain(row[0]) for row in rows[1:]} == asked_for()
    assert all(len(row) == 5 and all(row) for row in rows)


def test_every_library_is_used_and_nothing_else_is():
    homes = packages_distributions()
    used = {name.partition(".")[0] for _, tree in modules() for name, _ in imports(tree)}
    found = {plain(home) for name in used for home in homes.get(name, [])[:1]}
    assert asked_for() - not_here() == {COMES_WITH.get(home, home) for home in found}


def test_no_paper_is_written_by_hand():
    for path in (ROOT / "pipeline").rglob("*.py"):
        assert not re.search(r"\bendobj\b|/Type\s*/Page\b", path.read_text(encoding="utf-8")), path
