"""The promises of the sign-off are in DEVELOPERS.md; each names tests, and these exist."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def promises() -> list[tuple[str, str, list[str]]]:
    """Return (promise, against whom, tests) of each row of the table."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text.partition("## What the sign-off promises")[2].partition("\n## ")[0]
    rows = [line.strip("|").split("|") for line in part.splitlines() if line.startswith("| ")]
    return [(a.strip(), b.strip(), re.findall(r"`([^`]+::[^`]+)`", c)) for a, b, c in rows if a.strip() != "promise"]


def test_each_promise_names_existing_tests():
    table = promises()
    assert len(table) >= 15
    wrong = []
    for promise, against, tests in table:
        if not against or not tests:
            wrong.append(f"{promise}: held by nothing")
        for name in tests:
            file, _, function = name.partition("::")
            path = ROOT / file
            there = path.is_file() and any(
                isinstance(node, ast.FunctionDef) and node.name == function
                for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            )
            if not there:
                wrong.append(f"{promise}: there is no {name}")
    assert not wrong, "\n".join(wrong)


def test_what_is_not_promised_is_said():
    assert "Not promised" in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
