"""Names that benches, long runs and other test helpers import exist: also in functions and in programs inside
strings, which the suite doesn't run."""

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path
from textwrap import dedent

import pytest

TESTS = Path(__file__).resolve().parent
HELPERS = [str(p.relative_to(TESTS)) for p in sorted(TESTS.rglob("*.py")) if not p.name.startswith("test_")]


def find_programs(tree: ast.AST) -> Iterator[ast.AST]:
    """Return the module itself, and every string in it that is a program with an import."""
    yield tree
    parts = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            text = "".join(part.value if isinstance(part, ast.Constant) else "filled_in" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in parts:
            text = node.value
        else:
            continue
        if "import " in text:
            try:
                yield ast.parse(dedent(text))
            except SyntaxError:
                continue


def find_missing_imports(source: str) -> list[str]:
    """Return names imported from the package or from the tests that don't exist."""
    missing = []
    for program in find_programs(ast.parse(source)):
        for node in ast.walk(program):
            if isinstance(node, ast.ImportFrom) and not node.level:
                wanted = [(node.module, alias.name) for alias in node.names]
            elif isinstance(node, ast.Import):
                wanted = [(alias.name, "") for alias in node.names]
            else:
                continue
            ours = [(m, n) for m, n in wanted if m.partition(".")[0] in ("pipeline", "tests")]
            missing += [f"{module} {name}".rstrip() for module, name in ours if not is_there(module, name)]
    return missing


def is_there(module: str, name: str) -> bool:
    try:
        if name not in ("", "*", "filled_in") and not hasattr(importlib.import_module(module), name):
            module = f"{module}.{name}"
        importlib.import_module(module)
    except ImportError:
        return False
    return True


@pytest.mark.parametrize("path", HELPERS)
def test_every_name_that_a_helper_imports_exists(path):
    assert find_missing_imports((TESTS / path).read_text(encoding="utf-8")) == []


def test_a_missing_name_is_found_wherever_it_is_imported():
    source = """
from pipeline.core.storage.files import read_whole_nothing
def late():
    from pipeline.nowhere import anything
    import pipeline.core.nothing
PROGRAM = "from pipeline.core.storage import files\\nfrom pipeline.core.storage.files import gone"
FILLED = f"import sys; from pipeline.core.storage.files import gone_too; print({TESTS!r})"
"""
    assert find_missing_imports(source) == [
        "pipeline.core.storage.files read_whole_nothing",
        "pipeline.nowhere anything",
        "pipeline.core.nothing",
        "pipeline.core.storage.files gone",
        "pipeline.core.storage.files gone_too",
    ]
