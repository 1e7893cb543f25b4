"""`plaques explain`: what a finding means, why it matters, what to do, where its limit comes from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

from pipeline.core.catalogue import KINDS, kind_of
from pipeline.core.printable import json_text
from pipeline.outputs.explanation import explain as words
from pipeline.outputs.explanation import explain_all


def explain(code: str | None, *, as_json: bool, say: Callable[[str], object]) -> int:
    """Say one kind of finding, or all. CannotRun when there is no such code."""
    if as_json:
        kinds = [kind_of(code)] if code else list(KINDS.values())
        say(json_text([asdict(kind) for kind in kinds], indent=1))
    else:
        say(words(code) if code else explain_all())
    return 0
