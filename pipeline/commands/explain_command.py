"""`plaques explain`: what a finding means, why it matters, what to do, where its limit comes from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from pipeline.core.catalogue import KINDS, format_for_client, format_message, format_remedy, get_kind
from pipeline.core.catalogue.examples import build_examples
from pipeline.core.findings import Kind
from pipeline.core.printable import write_json_text
from pipeline.outputs.explanation import explain as words
from pipeline.outputs.explanation import explain_all


def explain(code: str | None, *, as_json: bool, say: Callable[[str], object]) -> int:
    """Explain one kind of finding, or list all. CannotRun when there is no such code."""
    if as_json:
        kinds = [get_kind(code)] if code else list(KINDS.values())
        say(write_json_text([_list_fields(kind) for kind in kinds], indent=1))
    else:
        say(words(code) if code else explain_all())
    return 0


def _list_fields(kind: Kind) -> dict[str, Any]:
    """Return a kind as plain values, with its example in words."""
    example = build_examples()[kind.code]
    words = {"message": format_message(example), "remedy": format_remedy(example), "client": format_for_client(example)}
    return {**asdict(kind), "example": words}
