"""A model of somebody who edits a small order again and again: any cell of the list, any key of the order. After
one edit or a few the order is run as usual, with everything cached by earlier runs, and once more with only the
measurements of letters cached, those of that run too (sometimes with an empty cache); every byte of every output has
to be equal.

`Editing(folder, seed, samples).steps(45)` does that many steps; `Differs` reports after which.
"""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import openpyxl  # noqa: F401 (lists are read in a fork of this process, which need not load it every time)
from pydantic import ValidationError

from pipeline.core.errors import CannotRun
from pipeline.core.required import require_value
from pipeline.core.storage.cache import FILE
from pipeline.run import run_order
from tests.order_keys import BASE, OUT, ListRow, Raw, Sample, changed, write_folder, write_list, write_order

OF_LETTERS = ("measured", "places", "joint", "distance", "glyph", "cluster", "fit", "grown", "way")
"""Spaces of the cache that hold what was measured of letters."""
MARKS = f"({', '.join('?' * len(OF_LETTERS))})"

FINE = "pocket.fine"
SELDOM = ("board", "labels", "pour", FINE, "pocket")
"""Tables that take as long to work out as all the rest of a small order: they are there where a key is tried that they
say something about (`TOGETHER_WITH`)."""

TOGETHER_WITH: Mapping[str, Sequence[str]] = {
    "board.": ("board",),
    "labels.": ("labels",),
    "pocket.": ("pocket",),
    "pocket.fine.": (FINE,),
    "pour.": ("pocket", "pour"),
    "blank.gap": ("pocket",),
    "blank.layers.pocket": ("pocket",),
    "stock.": ("pocket",),
    "spare.": ("board",),
    "rates.": ("pocket", "pour", "board"),
}
"""Beginnings of keys, and the tables without which they mean little."""

EDITED = changed(BASE, [(table, OUT) for table in SELDOM])
WHOLE = {table: BASE if table == FINE else changed(BASE, [(FINE, OUT)]) for table in SELDOM}
"""The orders that have these tables: the pocket with one cutter, where it is not the second that is tried."""

TOGETHER = 3
"""Keys that are other than they were at a time, at most: the earliest goes back to what it was. They are of different
tables where there is a choice: two keys of one table exclude each other more often than not, and what is cached is a
matter of one or two tables, so that a change missed in it isn't hidden by another."""

FRESH_EVERY = 20

NAMES = ("Ada Wren", "Ned Rae", "Wanda Ard", "Ada Wren & Ned Rae", "ada  wren", "", "Nan Dean-Wren-Ward-Rae-Reede-Ard")
NAMES += ("#REF!", "#N/A")
"""Few different letters: each is measured again in every typeface and fitted again at every size that an edit tries."""
POSTS = ("Warden", "Reader", "", "Dean", "#REF!")
TOWNS = ("Saltmarsh", "Rede", "#DIV/0!")


def _table(raw: Raw, name: str) -> Raw | None:
    """Return a table of the order, `pocket` or a nested one, `pocket.fine`; None where it doesn't exist."""
    for part in name.split("."):
        raw = raw.get(part) or {}
    return raw or None


class Differs(AssertionError):
    """Output of a cached run that differs from an uncached one."""


@dataclass
class Editing:
    """An order that is edited step by step."""

    folder: Path
    seed: int
    samples: Sequence[Sample]
    """What keys of the order are changed to; with none of them only the list is edited."""
    letters: Path | None = None
    """A cache folder for what was measured of letters, which other orders may share; the order's own if left out."""
    at_once: int = TOGETHER
    """Edits of the order before a run at most, and as many of the list: a person makes one or several."""
    statuses: Counter[int] = field(default_factory=Counter)
    """How many steps ended with which exit status."""
    changed: set[str] = field(default_factory=set)
    """Keys of the order that were changed in a step that ended with 0 or 1."""
    edits: Counter[str] = field(default_factory=Counter)
    said: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        self.deck = list(self.samples)
        self.chance.shuffle(self.deck)
        self.singly: list[Sample] = []  # those of a step that was refused: next each is tried by itself
        self.applied: list[Sample] = []
        self.rows = [ListRow("Ada Wren"), ListRow("Ned Rae", "Reader"), ListRow("Wanda Ard", town="Rede")]
        self.order = write_folder(self.folder / "order", EDITED, self.rows)
        self.letters = self.letters or self.folder / "letters"
        self._forget_all_but_letters()
        if self.letters.exists():
            shutil.copytree(self.letters, self.folder / "kept")

    def steps(self, count: int) -> None:
        """Do that many steps."""
        for number in range(1, count + 1):
            self.step(fresh=number % FRESH_EVERY == 0)

    def step(self, *, fresh: bool = False) -> None:
        """Edit the order, its list, or both, then run it with everything cached and with nothing cached."""
        what = self.chance.random()
        keys = self.chance.randint(1, self.at_once) if self.samples and what < 0.5 else 0
        keys = 1 if self.singly else self.at_once if self.deck else keys
        tried = [self._change_key() for _ in range(keys)]
        for _ in range(self.chance.randint(1, self.at_once) if not tried or what < 0.5 else 0):
            self._edit_list()
        raw = self._raw()
        write_order(self.order.parent, raw)
        write_list(self.order.parent, self.rows)
        status = self._compare(raw, fresh=fresh)
        self.statuses[status] += 1
        for sample in tried:
            if sample in self.applied and status in (0, 1):
                self.changed.add(sample.key)
            elif status == 2:  # not together with the others
                self.singly.append(sample)
            else:
                self.deck.append(sample)
        if status == 2:
            self.applied.clear()

    # --- edits ---

    def _change_key(self) -> Sample | None:
        others = self.applied[-TOGETHER + 1 :]
        tables = {s.table for s in others}
        apart = [s for s in self.deck or self.samples if s.table not in tables] or self.deck or self.samples
        if self.singly:
            sample, others = self.singly.pop(0), []
        elif self.deck:
            sample = apart[0]
            self.deck.remove(sample)
        else:
            sample = self.chance.choice(apart)
        self.applied = [*(s for s in others if s.key != sample.key), sample]
        self.said.append(f"{sample.key} = {sample.value}")
        self.edits["key"] += 1
        return sample

    def _raw(self) -> Raw:
        """Return the order with the changed keys; of those that exclude each other only the last."""
        try:
            raw = EDITED
            for sample in self.applied:
                raw = self._after(sample, raw)
        except (ValidationError, KeyError, IndexError, AttributeError, TypeError):
            self.applied = self.applied[-1:]
            raw = self._after(self.applied[0], EDITED)
        return raw

    def _after(self, sample: Sample, raw: Raw) -> Raw:
        for beginning, tables in TOGETHER_WITH.items():
            if sample.key.startswith(beginning):
                raw = changed(
                    raw, [(table, _table(WHOLE[table], table)) for table in tables if _table(raw, table) is None]
                )
        return sample.after(raw)

    def _edit_list(self) -> None:
        edits: list[Callable[[int], None]] = [
            self._name,
            self._name,
            self._error,
            self._error,
            self._post,
            self._town,
            self._hide,
            self._strike,
            self._insert,
            self._copy,
            self._swap,
            self._remove,
        ]
        edit = self.chance.choice(edits)
        edit(self.chance.randrange(len(self.rows)))
        self.edits[edit.__name__.strip("_")] += 1
        self.said.append(f"{edit.__name__.strip('_')}: {self.rows}")

    def _name(self, at: int) -> None:
        self.rows[at] = replace(self.rows[at], name=self.chance.choice(NAMES))

    def _error(self, at: int) -> None:
        """Let an empty cell show an error, and clear any other: a client's formula breaks and is taken out."""
        self.rows[at] = replace(self.rows[at], post="" if self.rows[at].post else "#REF!")

    def _post(self, at: int) -> None:
        self.rows[at] = replace(self.rows[at], post=self.chance.choice(POSTS))

    def _town(self, at: int) -> None:
        self.rows[at] = replace(self.rows[at], town=self.chance.choice(TOWNS))

    def _hide(self, at: int) -> None:
        self.rows[at] = replace(self.rows[at], hidden=not self.rows[at].hidden)

    def _strike(self, at: int) -> None:
        self.rows[at] = replace(self.rows[at], struck=not self.rows[at].struck)

    def _insert(self, at: int) -> None:
        self.rows.insert(at, ListRow(self.chance.choice(NAMES[:4])))
        self._few()

    def _copy(self, at: int) -> None:
        self.rows.append(self.rows[at])
        self._few()

    def _swap(self, at: int) -> None:
        other = self.chance.randrange(len(self.rows))
        self.rows[at], self.rows[other] = self.rows[other], self.rows[at]

    def _remove(self, at: int) -> None:
        if len(self.rows) > 2:
            del self.rows[at]

    def _few(self) -> None:
        if len(self.rows) > 4:
            del self.rows[self.chance.randrange(len(self.rows))]

    # --- runs ---

    def _compare(self, raw: Raw, *, fresh: bool) -> int:
        # files of another order are refused: each title and client has its own output folder
        out = self.folder / "kept-out" / f"{raw['title']}+{raw.get('client', '')}".replace("/", "-")
        anew = self.folder / "fresh-out"
        shutil.rmtree(anew, ignore_errors=True)
        kept = self._run(self.folder / "kept", out)
        self._hand_on_letters()
        other = self._run(require_value(self.letters, "a folder for letters"), anew, fresh=fresh)
        if kept[:2] != other[:2]:
            raise Differs(f"{self._story()}\n{kept[:2]} where a run with nothing kept gives {other[:2]}")
        if kept[0] in (0, 1) and kept[2] != other[2]:
            names = sorted(n for n in kept[2].keys() | other[2].keys() if kept[2].get(n) != other[2].get(n))
            raise Differs(f"{self._story()}\nother files: {names}")
        return kept[0]

    def _run(self, cache: Path, out: Path, **how: Any) -> tuple[int, str, dict[str, bytes]]:
        """Return exit status, output, and every file."""
        os.environ["XDG_CACHE_HOME"] = str(cache)
        try:
            done = run_order(self.order, out=out, workers=1, **how)
        except CannotRun as problem:
            return 2, str(problem).replace(str(out), "OUT"), {}
        files = {str(p.relative_to(out)): p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file()}
        return done.exit_status, done.summary.replace(str(out), "OUT"), files

    def _hand_on_letters(self) -> None:
        """Add what the run with everything cached measured of letters to the cache of letters."""
        kept, file = self.folder / "kept" / "plaques" / FILE, self._get_letters_file()
        if kept.exists() and not file.exists():
            file.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(kept, file)
        elif kept.exists():
            db = sqlite3.connect(file)
            db.execute("ATTACH ? AS other", (str(kept),))
            with db:
                db.execute(f"INSERT OR IGNORE INTO kept SELECT * FROM other.kept WHERE space IN {MARKS}", OF_LETTERS)
            db.close()
        self._forget_all_but_letters()

    def _forget_all_but_letters(self) -> None:
        file = self._get_letters_file()
        if file.exists():
            with sqlite3.connect(file) as db:
                db.execute(f"DELETE FROM kept WHERE space NOT IN {MARKS}", OF_LETTERS)
            db.close()

    def _get_letters_file(self) -> Path:
        return require_value(self.letters, "a folder for letters") / "plaques" / FILE

    def _story(self) -> str:
        return f"seed {self.seed}, after {len(self.said)} edits:\n  " + "\n  ".join(self.said[-12:])
