"""The layer table in DEVELOPERS.md applies: every import in the package is checked against it."""

import ast
import re
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def table() -> dict[str, set[str]]:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\w+) \| ([\w –]+) \|$", text, re.M)
    return {name: set(allowed.replace("–", "").split()) for name, allowed in rows if name != "folder"}


def test_every_folder_is_in_the_table():
    folders = {p.stem for p in (ROOT / "pipeline").iterdir() if p.is_dir() and p.name not in ("__pycache__", "_fonts")}
    assert folders <= table().keys()


@cache
def read_module_imports() -> dict[str, set[str]]:
    """Return each module of the package → the modules it imports, also those imported late or for types only."""
    modules = {}
    for path in (ROOT / "pipeline").rglob("*.py"):
        parts = path.relative_to(ROOT).with_suffix("").parts
        modules[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    graph: dict[str, set[str]] = {}
    for name, path in modules.items():
        used: set[str] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{path}: relative import"
                inside = [f"{node.module}.{a.name}" for a in node.names]
                used |= {each if each in modules else node.module or "" for each in inside}
            elif isinstance(node, ast.Import):
                used |= {a.name for a in node.names}
        graph[name] = used & (modules.keys() - {name})
    return graph


def test_imports_keep_to_the_table():
    allowed = table()
    wrong = []
    for module, imported in sorted(read_module_imports().items()):
        place = get_folder(module)
        if place in ("", "__main__"):
            continue
        for used in {get_folder(name) for name in imported} - {"", place} - allowed[place]:
            wrong.append(f"{module} imports {used}")
    assert not wrong, "\n".join(wrong)


def get_folder(module: str) -> str:
    """Return the folder, or module beside the folders, that a module of the package is in; "" for the package."""
    return f"{module}.".split(".")[1]


def test_there_are_no_circular_imports():
    graph = read_module_imports()
    assert len(graph) > 300
    TopologicalSorter(graph).prepare()  # CycleError names the circle
    planted = "pipeline.geometry.curves"
    assert planted in graph["pipeline.geometry.flatten"]
    with pytest.raises(CycleError):
        TopologicalSorter({**graph, planted: {"pipeline.geometry.flatten"}}).prepare()
