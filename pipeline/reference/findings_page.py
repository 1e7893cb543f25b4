"""findings.md: every kind of finding, from the catalogue, with its example."""

from __future__ import annotations

from itertools import groupby

from pipeline.core.catalogue import KINDS, format_message
from pipeline.core.catalogue.examples import build_examples
from pipeline.core.findings import Kind
from pipeline.outputs.explanation import MEANING, list_explanation_parts
from pipeline.reference.markdown import format_table

HEAD = """# Findings

`plaques explain CODE` prints the same. Codes are permanent: a code is never used for something else.

- **stop**: must not be cut. Each kind says below what it stops: the plaque, every plaque of the order, the boards, or
  one paper. What is stopped gets no cut file, no place on a board, no card on the proof and no release, and files of an
  earlier run are removed.
- **ask**: a person has to look. The file is made, and the question goes on the proof where the client can answer it.
- **note**: recorded only, in `check.xlsx` and `report.json`.
"""


def build_page() -> str:
    """Return the page: a table of all codes, then one section per code."""
    rows = [
        (f"[`{c}`](#{_build_anchor(c)})", kind.severity.value, format_message(build_examples()[c]))
        for c, kind in KINDS.items()
    ]
    parts = [HEAD, format_table(("code", "severity", "for example"), rows)]
    subjects = list(dict.fromkeys(map(_get_subject, KINDS.values())))
    for subject, kinds in groupby(
        sorted(KINDS.values(), key=lambda k: subjects.index(_get_subject(k))), key=_get_subject
    ):
        parts.append(f"## {subject}\n")
        parts += [_build_section(kind) for kind in kinds]
    return "\n".join(parts)


def _build_section(kind: Kind) -> str:
    said = ""
    for head, texts in list_explanation_parts(kind):
        only = f" {texts[0]}" if len(texts) == 1 else "".join(f"\n  - {text}" for text in texts)
        said += f"- **{head}**:{only}\n"
    return f"### {kind.code}\n\n{MEANING[kind.severity]}\n\n{said}"


def _build_anchor(code: str) -> str:
    return code.replace(".", "")


def _get_subject(kind: Kind) -> str:
    return kind.code.partition(".")[0]
