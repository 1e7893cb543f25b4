"""One name, one meaning: every class, module and folder of the package has a unique name."""

from __future__ import annotations

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent / "pipeline"
ENTRIES = {"__init__", "__main__"}  # names that Python prescribes

FOLDERS_MAIN_MODULE = "the module that the folder of this name is there for, beside what it alone needs"
TWICE = {
    "cut_files": FOLDERS_MAIN_MODULE,
    "proof": FOLDERS_MAIN_MODULE,
    "shop_sheet": FOLDERS_MAIN_MODULE,
    "order": "the order's model in `core`, and the folder in `intake` that reads it from its file",
}
"""Names that stand twice, with the reason."""


@cache
def class_names(root: Path) -> dict[str, list[str]]:
    """Map name without leading underscore → each class with it, wherever it is in a module."""
    found = defaultdict(list)
    for path in sorted(root.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                found[node.name.lstrip("_")].append(f"{path.relative_to(root)}:{node.lineno}")
    return found


def module_names(root: Path) -> dict[str, list[str]]:
    """Map name → each module or folder with it."""
    found = defaultdict(list)
    for path in sorted(root.rglob("*.py")):
        if path.stem not in ENTRIES:
            found[path.stem.lstrip("_")].append(str(path.relative_to(root)))
    for path in sorted({p.parent for p in root.rglob("*.py")} - {root}):
        found[path.name.lstrip("_")].append(str(path.relative_to(root)))
    return found


def twice(names: dict[str, list[str]]) -> dict[str, list[str]]:
    return {name: places for name, places in names.items() if len(places) > 1}


@pytest.mark.parametrize("names", [class_names, module_names])
def test_no_name_is_used_twice_without_a_reason(names):
    wrong = {name: places for name, places in twice(names(ROOT)).items() if name not in TWICE}
    assert not wrong


def test_few_names_are_used_twice_and_each_exception_is_needed():
    assert len(TWICE) <= 10
    assert all(TWICE.values())
    assert twice(class_names(ROOT)).keys() | twice(module_names(ROOT)).keys() == TWICE.keys()


def test_the_test_finds_each_way(tmp_path):
    (tmp_path / "room" / "inner").mkdir(parents=True)
    (tmp_path / "room" / "lines.py").write_text("class Line: ...\n", encoding="utf-8")
    (tmp_path / "room" / "__init__.py").write_text("", encoding="utf-8")
    (tmp_path / "room" / "inner" / "lines.py").write_text("def f():\n    class _Line: ...\n", encoding="utf-8")
    (tmp_path / "room" / "inner" / "room.py").write_text("class Other: ...\n", encoding="utf-8")
    assert twice(class_names(tmp_path)) == {"Line": ["room/inner/lines.py:2", "room/lines.py:1"]}
    assert twice(module_names(tmp_path)) == {
        "lines": ["room/inner/lines.py", "room/lines.py"],
        "room": ["room/inner/room.py", "room"],
    }
