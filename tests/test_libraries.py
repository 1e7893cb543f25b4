"""The libraries the tool asks for: each explained in one table, each used, none by a name that is not public."""

from __future__ import annotations

import ast
import re
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

ROOT = Path(__file__).parents[1]
LIBRARY = re.compile(r"[A-Za-z0-9_-]+")


def plain(name: str) -> str:
    return name.lower().replace("_", "-")


def asked_for() -> set[str]:
    lines = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    return {plain(LIBRARY.match(line)[0]) for line in lines}


def modules() -> list[tuple[Path, ast.Module]]:
    return [(p, ast.parse(p.read_text(encoding="utf-8"))) for p in sorted((ROOT / "pipeline").rglob("*.py"))]


def imports(tree: ast.Module) -> list[tuple[str, list[str]]]:
    """Modules of other packages, and what is taken from each."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, []) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.append((node.module, [alias.name for alias in node.names]))
    return [(name, names) for name, names in found if name.partition(".")[0] not in ("pipeline", "__future__")]


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
    assert asked_for() == {plain(home) for name in used for home in homes.get(name, [])[:1]}


def test_no_paper_is_written_by_hand():
    for path in (ROOT / "pipeline").rglob("*.py"):
        assert not re.search(r"\bendobj\b|/Type\s*/Page\b|startxref", path.read_text(encoding="utf-8")), path


STILL = {"_cells", "_sheet_visibility"}
"""Attributes of libraries without a public way to them yet; one that is gone has to be taken from here."""


def test_nothing_private_of_another_package_is_used():
    """A name with a leading underscore is one of ours: written somewhere in the package as a definition or a field."""
    own, asked, taken = set(), {}, []
    for path, tree in modules():
        taken += [(path.name, name, names) for name, names in imports(tree) if re.search(r"(^|[. ])_[a-z]", name)]
        taken += [(path.name, name, n) for name, names in imports(tree) for n in names if n.startswith("_")]
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                own.add(node.name)
            elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
                own.add(node.id)
            elif isinstance(node, ast.Attribute) and node.attr.startswith("_") and not node.attr.startswith("__"):
                if isinstance(node.ctx, ast.Store):
                    own.add(node.attr)
                else:
                    asked.setdefault(node.attr, path.name)
    assert taken == []
    assert {name: where for name, where in asked.items() if name not in own and name not in STILL} == {}
    assert asked.keys() >= STILL
