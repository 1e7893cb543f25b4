"""Only public names of other packages are used: no attribute with a leading underscore, except our own."""

import ast
import importlib
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent / "pipeline"

DOCUMENTED = {("os", "_exit")}
"""Names with an underscore that the documentation of Python itself gives as public (library reference, `os`)."""


LOOKED_AT = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Attribute, ast.AnnAssign, ast.Assign,
             ast.Import, ast.ImportFrom)  # fmt: skip


@cache
def modules(root: Path) -> dict[str, list[ast.AST]]:
    """Return the inspected parts of every module of the package, each read and walked once."""
    held = {}
    for path in sorted(root.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        held[str(path.relative_to(root))] = [node for node in ast.walk(tree) if isinstance(node, LOOKED_AT)]
    return held


def private(name: str) -> bool:
    return name.startswith("_") and not (name.startswith("__") and name.endswith("__"))


def own_names(nodes: list[ast.AST]) -> set[str]:
    """Return the names with a leading underscore that a module defines: functions, classes, attributes, fields,
    slots."""
    names = set()
    for node in nodes:
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.AsyncFunctionDef):
            names.add(node.name)
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            if isinstance(node.value, ast.Name) and node.value.id in ("self", "cls"):
                names.add(node.attr)
        elif isinstance(node, ast.AnnAssign | ast.Assign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names |= {t.id for t in targets if isinstance(t, ast.Name)}
            if any(isinstance(t, ast.Name) and t.id == "__slots__" for t in targets):
                names |= {c.value for c in ast.walk(node) if isinstance(c, ast.Constant) and isinstance(c.value, str)}
    return {name for name in names if private(name)}


def of_libraries(nodes: list[ast.AST]) -> dict[str, tuple[str, str]]:
    """Return a module's imports from other packages: the name here → module and name there ("" for the module
    itself)."""
    found = {}
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {(a.asname or a.name).split(".")[0]: (a.name, "") for a in node.names if not is_ours(a.name)}
        elif isinstance(node, ast.ImportFrom) and not node.level and not is_ours(node.module):
            found |= {a.asname or a.name: (node.module, a.name) for a in node.names}
    return found


def is_ours(module: str) -> bool:
    return module.split(".", maxsplit=1)[0] == "pipeline"


def inherited(nodes: list[ast.AST], libraries: dict[str, tuple[str, str]]) -> set[str]:
    """Return private names that a class of ours inherits from a library's class: defining one would override it."""
    names = set()
    for node in nodes:
        if isinstance(node, ast.ClassDef):
            for base in node.bases:
                head = base
                while isinstance(head, ast.Attribute):
                    head = head.value
                if isinstance(head, ast.Name) and head.id in libraries:
                    names |= {n for n in dir(resolved(base, libraries)) if private(n)}
    return names


def resolved(base: ast.expr, libraries: dict[str, tuple[str, str]]) -> object:
    """Return the library's class that an expression like `library.module.Class` names."""
    if isinstance(base, ast.Attribute):
        return getattr(resolved(base.value, libraries), base.attr)
    module, name = libraries[base.id]
    held = importlib.import_module(module if base.id == module or name or "." not in module else module.split(".")[0])
    return getattr(held, name) if name else held


def private_uses(root: Path) -> dict[str, set[str]]:
    """Return, by file, private names imported from a library, read from one, inherited from one of its classes, or
    read from anything else when neither this module nor another of ours defines that name."""
    everywhere = set().union(*map(own_names, modules(root).values()))
    found: dict[str, set[str]] = {}
    for file, nodes in modules(root).items():
        libraries = of_libraries(nodes)
        theirs = inherited(nodes, libraries)
        names = {part for module, name in libraries.values() for part in (*module.split("."), name) if private(part)}
        names |= {node.name for node in nodes if isinstance(node, ast.FunctionDef) and node.name in theirs}
        for node in nodes:
            if not isinstance(node, ast.Attribute) or not private(node.attr):
                continue
            holder = node.value.id if isinstance(node.value, ast.Name) else ""
            if holder in libraries:
                theirs_here = (libraries[holder][0], node.attr) not in DOCUMENTED
            else:
                theirs_here = node.attr in theirs or node.attr not in everywhere
            names |= {node.attr} if theirs_here else set()
        if names:
            found[file] = names
    return found


def test_no_private_name_of_another_package_is_used():
    assert private_uses(ROOT) == {}


def test_the_test_finds_each_way(tmp_path):
    (tmp_path / "a.py").write_text(
        "import numpy as np\nfrom os import _exit\nfrom string import Formatter\nfrom string import _string\n"
        "class Own:\n    __slots__ = ('_kept',)\n    def _mine(self): ...\n"
        "class Words(Formatter):\n    def _vformat(self): ...\n"
        "def f(page, own): page._set = 1; return page._cells, np._globals, own._mine, own._kept\n",
        encoding="utf-8",
    )
    assert private_uses(tmp_path) == {"a.py": {"_cells", "_set", "_globals", "_exit", "_string", "_vformat"}}
