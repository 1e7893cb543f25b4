"""`plaques explain`: what a finding means, why it matters, what to do, where its limit comes from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from pipeline.core.catalogue import KINDS, for_client, kind_of, message, remedy
from pipeline.core.catalogue.examples import examples
from pipeline.core.findings import Kind
from pipeline.core.printable import json_text
from pipeline.outputs.explanation import explain as words
from pipeline.outputs.explanation import explain_all


def explain(code: str | None, *, as_json: bool, say: Callable[[str], object]) -> int:
    """Explain one kind of finding, or list all. CannotRun when there is no such code."""
    if as_json:
        kinds = [kind_of(code)] if code else list(KINDS.values())
        say(json_text([_plain(kind) for kind in kinds], indent=1))
    else:
        say(words(code) if code else explain_all())
    return 0


def _plain(kind: Kind) -> dict[str, Any]:
    """A kind as plain values, with its example in words."""
    example = examples()[kind.code]
    words = {"message": message(example), "remedy": remedy(example), "client": for_client(example)}
    return {**asdict(kind), "example": words}
