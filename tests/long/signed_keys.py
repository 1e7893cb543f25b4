"""Every key of the order changed: what is signed is what the client gets.

    python -m tests.long.signed_keys

A small order is inspected before and after each sample value of each key, with one name. The change has to appear in
the fingerprint, or in the cut file together with a remark of the release (the making values; title, client), or the
cut files are equal byte for byte. `tests/signoff/test_purposes.py` runs a sample of it.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.core.errors import CannotRun
from pipeline.core.fingerprint import list_making_values
from pipeline.order_state import take_snapshot
from pipeline.signoff.records.job_identity import JobIdentity
from tests.order_keys import SAMPLES, ListRow, Raw, Sample, write_folder, write_order

Seen = tuple[list[str], object, dict[str, bytes]]


@dataclass
class Tried:
    """How each sample appeared, and those that appeared in nothing a person is told about."""

    shown: Counter[str] = field(default_factory=Counter)
    silent: list[str] = field(default_factory=list)


def try_samples(samples: Sequence[Sample]) -> Tried:
    """Inspect each sample before and after."""
    out, seen = Tried(), dict[str, Seen | None]()
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base)
        write_folder(folder, rows=(ListRow("Ada Tern"),))
        for sample in samples:
            before, after = (_seen(folder, raw, seen) for raw in (sample.before(), sample.after()))
            if after is None:
                out.silent.append(f"{sample.key} = {sample.value}: the order cannot be run")
            elif before is None:
                out.shown["cannot be run without"] += 1
            elif before[0] != after[0]:
                out.shown["another fingerprint"] += 1
            elif before[2] == after[2]:
                out.shown["equal files"] += 1
            elif before[1] != after[1]:
                out.shown["another file, and told"] += 1
            else:
                out.silent.append(f"{sample.key} = {sample.value}: another file, and nobody is told")
    return out


def _seen(folder: Path, raw: Raw, seen: dict[str, Seen | None]) -> Seen | None:
    """Return fingerprints, what the release would report about the making and the job, and the bytes of the cut
    files without their code; None when the order can't be run."""
    key = json.dumps(raw, sort_keys=True, default=str)
    if key not in seen:
        write_order(folder, raw)
        try:
            looked = take_snapshot(folder, folder / "out")
        except CannotRun:
            seen[key] = None
            return None
        files = {}
        for plaque in looked.outcome.plaques:
            code = plaque.fingerprint
            if code:
                made = looked.made(plaque).items()
                files.update({n.replace(code, "-"): d.replace(code.encode(), b"-") for n, d in made})
        told = (list_making_values(looked.folder.order), JobIdentity.from_order(looked.folder))
        seen[key] = ([p.fingerprint for p in looked.outcome.plaques], told, files)
    return seen[key]


def main() -> int:
    """Run all of them and print counts."""
    tried = try_samples(SAMPLES)
    print(f"{len(SAMPLES)} values of keys: " + ", ".join(f"{n} {how}" for how, n in tried.shown.most_common()))
    print("\n".join(tried.silent))
    return 1 if tried.silent else 0


if __name__ == "__main__":
    sys.exit(main())
