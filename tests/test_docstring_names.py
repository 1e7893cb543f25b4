"""Names in backticks in docstrings exist: a function, class, parameter, module, key or file."""

from __future__ import annotations

import ast
import builtins
import importlib
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent / "pipeline"
QUOTED = re.compile(r"``([^`\n]+)``|`([^`\n]+)`")
NAME = re.compile(r"[A-Za-z_]\w*(\.\w+)*")
FILE = re.compile(r"[\w-]+\.(\w+)")
FILES = {"csv", "dxf", "ini", "json", "md", "pdf", "po", "py", "sqlite", "svg", "toml", "txt", "xlsx"}
"""Suffixes by which a dotted name is a file's."""
LEAST_CHECKED = 100
"""So many names of the package are in its docstrings at least; fewer: they are no longer found."""


@dataclass
class Definitions:
    """Names that the package defines."""

    names: set[str] = field(default_factory=set)  # functions, classes, parameters, variables, attributes, imports
    fields: set[str] = field(default_factory=set)  # parameters and annotated attributes, order keys among them
    words: set[str] = field(default_factory=set)  # words of short strings in the code: keys, values, file names
    members: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))  # class -> its members
    bases: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    modules: dict[str, set[str]] = field(default_factory=dict)  # dotted path below the package -> its own names


def docstrings(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Return line and text of each string statement: docstrings, and those below a key or a constant."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            yield node.lineno, node.value.value
        elif isinstance(node, ast.stmt | ast.ExceptHandler | ast.match_case):
            yield from docstrings(node)


def own_names(body: list[ast.stmt]) -> Iterator[str]:
    """Return the names that statements define at their own level."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                yield from (n.id for n in ast.walk(target) if isinstance(n, ast.Name))
        elif isinstance(node, ast.ImportFrom | ast.Import):
            yield from ((a.asname or a.name) for a in node.names)
        elif isinstance(node, ast.If | ast.Try):
            yield from own_names(node.body)


@lru_cache
def read_definitions() -> Definitions:
    out = Definitions()
    for path in sorted(ROOT.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        parts = path.relative_to(ROOT).with_suffix("").parts
        parts = parts[:-1] if parts[-1] == "__init__" else parts
        out.modules[".".join(parts)] = set(own_names(tree.body))
        out.names |= {*parts, *out.modules[".".join(parts)]}
        nodes = list(ast.walk(tree))
        alone = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
        for node in nodes:
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                out.names.add(node.name)
            if isinstance(node, ast.ClassDef):
                out.members[node.name] |= set(own_names(node.body)) | {
                    n.attr for n in ast.walk(node) if isinstance(n, ast.Attribute) and isinstance(n.ctx, ast.Store)
                }
                out.bases[node.name] |= {n.id for base in node.bases for n in ast.walk(base) if isinstance(n, ast.Name)}
                out.fields |= {
                    n.target.id for n in node.body if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name)
                }
            elif isinstance(node, ast.arg):
                out.fields.add(node.arg)
            elif isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Store):
                out.names.add(node.id if isinstance(node, ast.Name) else node.attr)
            elif isinstance(node, ast.alias):
                out.names.add(node.asname or node.name)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone:
                out.words.update(node.value.split() if len(node.value) < 200 else ())
    out.names |= out.fields
    return out


def looks_like_a_name(text: str) -> bool:
    """Return whether it is a name from code rather than a word: with an underscore, with capitals inside, or dotted."""
    if NAME.fullmatch(text):
        return bool("_" in text.strip("_") or "." in text or re.search("[A-Z][a-z]", text))
    file = FILE.fullmatch(text)
    return file is not None and file[1] in FILES


def exists(name: str, here: Definitions) -> bool:
    parts = name.split(".")
    if len(parts) == 1:
        return name in here.names or name in here.words or hasattr(builtins, name)
    if parts[-1] in FILES:
        return any(word.endswith(name) for word in here.words) or any(ROOT.rglob(name))
    return is_in_module(parts, here) or is_member(parts, here) or is_of_a_library(parts) or is_key(parts, here)


def is_in_module(parts: list[str], here: Definitions) -> bool:
    """`pipeline.core.storage.files`, `storage.door`, `answer_formats.ANSWER_FORMATS`: a module, or a name in it."""
    own = parts[1:] if parts[0] == ROOT.name else parts
    for end in range(len(own), 0, -1):
        module, rest = ".".join(own[:end]), own[end:]
        found = [names for path, names in here.modules.items() if path == module or path.endswith(f".{module}")]
        if found:
            return len(rest) == 0 or any(rest[0] in names and is_path(rest, here) for names in found)
    return False


def is_path(parts: list[str], here: Definitions) -> bool:
    return len(parts) == 1 or is_member(parts, here)


def is_member(parts: list[str], here: Definitions) -> bool:
    """`Ledger.read_lettering`: a member of a class or of one it inherits from."""
    name, member = parts[0], parts[1]
    seen: set[str] = set()
    waiting = {name}
    while waiting:
        one = waiting.pop()
        seen.add(one)
        if member in here.members.get(one, ()):
            return len(parts) == 2
        waiting |= here.bases.get(one, set()) - seen
    return False


def is_of_a_library(parts: list[str]) -> bool:
    """`json.dumps`, `str.format`: a name of a module or type outside the package."""
    if hasattr(builtins, parts[0]):
        found = getattr(builtins, parts[0])
    else:
        try:
            found = importlib.import_module(parts[0])
        except ImportError:
            return False
    for part in parts[1:]:
        if not hasattr(found, part):
            return False
        found = getattr(found, part)
    return True


def is_key(parts: list[str], here: Definitions) -> bool:
    """`finish.sanded_off`, `board.size.0.length`: nested keys, or an attribute of a parameter."""
    return all(part.isdigit() or part in here.fields for part in parts)


def named(source: str) -> Iterator[tuple[int, str]]:
    """Return each name in backticks of a module's docstrings, with its line."""
    for line, text in docstrings(ast.parse(source)):
        for quoted in QUOTED.finditer(text):
            name = (quoted[1] or quoted[2]).removesuffix("()")
            if looks_like_a_name(name):
                yield line + text.count("\n", 0, quoted.start()), name


def unknown(names: Iterable[tuple[int, str]]) -> list[tuple[int, str]]:
    return [(line, name) for line, name in names if not exists(name, read_definitions())]


def test_every_name_in_a_docstring_exists():
    checked, wrong = 0, []
    for path in sorted(ROOT.rglob("*.py")):
        names = list(named(path.read_text(encoding="utf-8")))
        checked += len(names)
        wrong += [f"{path.relative_to(ROOT.parent)}:{line} `{name}`" for line, name in unknown(names)]
    assert not wrong, "\n".join(wrong)
    assert checked >= LEAST_CHECKED


def test_names_that_are_gone_are_found():
    """Planted names: a function, a class, a member, a module, a name missing from a module or library, a key, a
    file."""
    gone = ["read_no_order", "NoSuchLedger", "Ledger.read_nothing", "core.no_such_module",
            "core.storage.door.read_nothing",
            "json.no_dumps", "finish.never_sanded", "never-written.toml", "never_written.toml"]  # fmt: skip
    there = ["read_order", "LedgerEntry", "Ledger.read_entries", "core.storage.door",
             "pipeline.core.storage.door.read_apart",
             "json.dumps", "finish.sanded_off", "order.toml", "read_apart()"]  # fmt: skip
    source = '"""' + "\n".join(f"`{name}` and ``{name}``" for name in gone + there) + '"""'
    assert [name for _, name in unknown(named(source))] == [name for name in gone for _ in range(2)]
    assert unknown(named(f'KEY = 1\n"""As `{gone[0]}`."""')) == [(2, gone[0])]
    assert unknown(named(f'class A:\n    def f(self):\n        """Does.\n\n        See `{gone[1]}`."""')) == [
        (5, gone[1])
    ]
