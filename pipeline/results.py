"""The plaques of a run: as they were kept, or made, in this process or in several.

What a plaque becomes depends on its own values and on what is the same for the whole order. Both together name what is
kept of it, so that a run makes only what has changed since.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from pipeline.core.codes import packed, sha256_of
from pipeline.core.kept import Kept
from pipeline.core.model import Plaque, Recipient
from pipeline.core.plain import Plain, Unknown
from pipeline.job import Job
from pipeline.making import Finished, Maker, Progress, Task, Timers, same_everywhere, sensible

if TYPE_CHECKING:
    from pipeline.outputs.cut_file import CutFiles
    from pipeline.workers import Handed

KEPT_MOST = 128 << 20
"""Bytes kept of one order's plaques."""

_NOT_IN_A_PLAQUE = {"list", "proof", "rates", "labels", "board", "stock"}
"""Tables of the order that never reach a plaque, its checks or its files (of [list], only the language does)."""


class Store:
    """The plaques kept of one task."""

    def __init__(self, task: Task, job: Job) -> None:
        order = task.folder.order
        self.kept: Kept = job.keeper.open(f"plaques-{sha256_of([order.title, order.client])[:24]}")
        self.kept.limit(KEPT_MOST)
        self.plain = Plain(same_everywhere(task), lambda name: self.kept.text("letters", name))
        self._order = _order_key(task, job)
        self._keys: dict[int, str] = {}  # by row

    def of(self, recipient: Recipient, writer: CutFiles | None) -> Plaque | None:
        """The plaque as it was kept, when its files lie on the disk as they were written; None otherwise."""
        text = self.kept.text("plaques", self._key(recipient))
        if text is None or text != _sealed(text[_SEAL:-1]):
            return None
        try:
            _, hashes, plain = json.loads(text)
            if writer is not None and not writer.holds(hashes):
                return None
            plaque = self.plain.of(plain, recipient)
        except (Unknown, ValueError, TypeError, AttributeError):
            return None
        if writer is not None:
            writer.count(plaque)
        return plaque

    def put(self, recipient: Recipient, text: str, hashes: Mapping[str, str]) -> None:
        """Keeps a plaque as `plain` wrote it, and the hashes of its files."""
        self.kept.put_text("plaques", self._key(recipient), _sealed(f"{packed(dict(hashes))},{text}"))
        self.learn(self.plain.texts)
        self.plain.texts.clear()

    def learn(self, texts: Mapping[str, str]) -> None:
        """Keeps shared things that another process wrote."""
        for name, text in texts.items():
            self.kept.put_text("letters", name, text)

    def _key(self, recipient: Recipient) -> str:
        if recipient.row not in self._keys:
            decided = [self._order, recipient.values, recipient.language]
            self._keys[recipient.row] = sha256_of(decided)[:40]
        return self._keys[recipient.row]


def _sealed(text: str) -> str:
    """A list of JSON: a hash of the text, then the values of the text."""
    return f'["{hashlib.sha256(text.encode()).hexdigest()[:24]}",{text}]'


_SEAL = len('["",') + 24
"""Where the values of a sealed text begin."""


def _order_key(task: Task, job: Job) -> str:
    """A hash of all that is the same for the plaques of a task and decides what they become."""
    order = task.folder.order
    blank = task.blank
    chains = [blank.edge, *(c for _, c in blank.zones), *blank.keep_outs, *blank.pockets, *blank.holes]
    return sha256_of(
        [
            order.model_dump(mode="json", exclude=_NOT_IN_A_PLAQUE),
            order.list.language,
            [[c.closed, c.vertices.tobytes().hex()] for c in chains],
            [[name for name, _ in blank.zones], len(blank.keep_outs), len(blank.pockets), len(blank.holes)],
            [blank.width, blank.height, blank.thickness],
            [[[face.identity, face.sha256] for face in faces] for faces in job.faces],
            [list(pair) for pair in (*job.cutter.words(), *job.limits.words())],
            job.fingerprints.decided,  # whatever else is in a plaque's fingerprint
            list(task.tops),
            [task.files, task.prove],
        ]
    )


@dataclass(slots=True, eq=False)
class All:
    """The plaques of a run in the order of the list, with the faults of the tool (row, traceback)."""

    plaques: list[Plaque] = field(default_factory=list)
    faults: list[tuple[int, str]] = field(default_factory=list)
    kept: int = 0  # so many were as they were kept


def make_all(
    task: Task,
    job: Job,
    writer: CutFiles | None,
    recipients: Sequence[Recipient],
    *,
    workers: int | None,
    timers: Timers,
    progress: Progress,
) -> All:
    """Every plaque: as kept, or made. workers: how many processes make them; None: as many as pay.

    CannotRun where nothing can be written; `WorkerDied` when a process of the run was ended from outside.
    """
    store = Store(task, job)
    if writer is not None:
        writer.begin()
    with timers.stage("kept plaques"):
        found = [store.of(recipient, writer) for recipient in recipients]
    missing = [k for k, plaque in enumerate(found) if plaque is None]
    out = All(kept=len(found) - len(missing))
    faults: dict[int, str] = {}
    ready = out.kept

    def done(k: int, plaque: Plaque, fault: str | None) -> None:
        nonlocal ready
        found[k] = plaque
        if fault is not None:
            faults[k] = fault
        ready += 1
        progress("plaques made", ready, len(recipients))

    count = sensible(len(missing)) if workers is None else min(workers, max(1, len(missing)))
    if missing:
        maker = Maker(task, job, writer)
        try:
            for k, one in _made(task, maker, {k: recipients[k] for k in missing}, count, timers):
                if isinstance(one, Finished):
                    plaque = one.plaque
                    if one.keeps and task.kept is not None:
                        store.put(recipients[k], store.plain.write(plaque), maker.hashes(plaque))
                else:
                    store.learn(one.texts)
                    plaque = store.plain.read(one.text, recipients[k])
                    if writer is not None:
                        writer.count(plaque, one.hashes)
                    if one.keeps and task.kept is not None:
                        store.put(recipients[k], one.text, one.hashes)
                done(k, plaque, one.fault)
        finally:
            job.keep()  # what there is by then, when the run is stopped
        timers.add(maker.timers.seconds)
    store.kept.let_go()
    out.plaques = [plaque for plaque in found if plaque is not None]
    out.faults = [(recipients[k].row, faults[k]) for k in sorted(faults)]
    return out


def _made(
    task: Task, maker: Maker, recipients: Mapping[int, Recipient], count: int, timers: Timers
) -> Iterator[tuple[int, Finished | Handed]]:
    if count > 1:
        from pipeline.workers import spread  # with what starts processes: only what does needs it

        yield from spread(task, maker, recipients, count, timers)
    else:
        for k, recipient in recipients.items():
            yield k, maker.make(recipient)
