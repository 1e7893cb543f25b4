"""Only public names of other packages are used: no attribute with a leading underscore of anything that is not ours."""

import ast
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent / "pipeline"

KNOWN: dict[str, set[str]] = {
    "outputs/workbooks/workbook.py": {"_check_dimensions", "_get_shared_string_index", "_write_cell", "_get_xf_index"},
}
"""What still stands: to be removed, never to be added to."""


def own_names() -> set[str]:
    """Names with a leading underscore that the package itself gives: to functions, classes, attributes, fields."""
    names = set()
    for path in ROOT.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.AsyncFunctionDef):
                names.add(node.name)
            elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
                names.add(node.attr)
            elif isinstance(node, ast.AnnAssign | ast.Assign):
                targets = node.targets if isinstance(node, ast.Assign) else [node.target]
                names |= {t.id for t in targets if isinstance(t, ast.Name)}
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                names.add(node.value)  # __slots__
    return {name for name in names if name.startswith("_")}


def private_uses() -> dict[str, set[str]]:
    """By file, the underscored attributes and imports of which the package does not define the name itself, and those
    that are read off an imported library whatever their name."""
    ours = own_names()
    found: dict[str, set[str]] = {}
    for path in sorted(ROOT.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        libraries, own_methods = set(), set()
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                libraries |= {(a.asname or a.name).split(".")[0] for a in node.names}
            elif isinstance(node, ast.ImportFrom) and not (node.module or "").startswith("pipeline"):
                libraries |= {a.asname or a.name for a in node.names}
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef) and {b.id for b in node.bases if isinstance(b, ast.Name)} & libraries:
                # methods of a library's class that a subclass of ours puts in their place
                own_methods |= {n.name for n in node.body if isinstance(n, ast.FunctionDef) and n.name[:2] != "__"}
        for node in ast.walk(tree):
            name = ""
            if isinstance(node, ast.Attribute) and node.attr.startswith("_") and not node.attr.startswith("__"):
                of_library = isinstance(node.value, ast.Name) and node.value.id in libraries
                on_super = isinstance(node.value, ast.Call) and isinstance(node.value.func, ast.Name)
                overridden = on_super and node.value.func.id == "super" and node.attr in own_methods
                name = node.attr if of_library or overridden or node.attr not in ours else ""
            elif isinstance(node, ast.ImportFrom) and not (node.module or "").startswith("pipeline"):
                parts = [*(node.module or "").split("."), *(a.name for a in node.names)]
                name = next((p for p in parts if p.startswith("_") and not p.startswith("__")), "")
            if name:
                found.setdefault(str(path.relative_to(ROOT)), set()).add(name)
    return found


def test_no_private_name_of_another_package_is_used():
    new = {file: names - KNOWN.get(file, set()) for file, names in private_uses().items()}
    assert {file: names for file, names in new.items() if names} == {}


def test_the_test_finds_one(monkeypatch, tmp_path):
    (tmp_path / "a.py").write_text(
        "import numpy as np\nfrom os import _exit\nclass Own:\n    def _mine(self): ...\n"
        "def f(page, own): return page._cells, np._globals, own._mine\n",
        encoding="utf-8",
    )
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    assert private_uses() == {"a.py": {"_cells", "_globals", "_exit"}}
