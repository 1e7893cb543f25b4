"""Equal input gives equal bytes in every file a run writes: two processes with different hash seeds, one of them as
on an older processor and with an empty cache, files compared."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest

ROOT = Path(__file__).resolve().parent.parent
SEEDS = ("4", "5")
"""With these two the DXF library's own set of classes comes in two orders (tried with 0 to 5)."""
OLDER = {
    "GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX2,-FMA",
    "NPY_DISABLE_CPU_FEATURES": "AVX2 FMA3",
    "OPENBLAS_CORETYPE": "Prescott",
}
"""What makes the C library, numpy and its linear algebra leave out what newer processors have; other systems and
processors pass it over."""
NAMES = ("Ada Tern", "Þea & Ada", "Rea " * 40)


def small_order(folder: Path, version: str) -> Path:
    """Return the seabird trust's order with three names, one of them too long, and every kind of file it can write."""
    shutil.copytree(ROOT / "sample_orders" / "seabird-trust", folder, ignore=shutil.ignore_patterns("out", "*.sqlite*"))
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Wardens"
    sheet.append(["Recipient", "Post", "Season", "How many"])
    for name in NAMES:
        sheet.append([name, "Arena", "22", 2])
    book.save(folder / "recipients.xlsx")
    order = folder / "order.toml"
    text = order.read_text(encoding="utf-8")
    assert "[files]" not in text and text.count("[board]\n") == 1
    text = text.replace("[board]\n", "[board]\nunsigned = true\n")
    order.write_text(f'{text}\n\n[files]\nversion = "{version}"\n', encoding="utf-8")
    return folder


PROGRAM = """
import sys
from pathlib import Path
from pipeline.cli import main
out, *jobs = sys.argv[1:]
for job in jobs:
    folder, *options = job.split()
    assert main(["run", folder, "--out", str(Path(out) / Path(folder).name), *options]) in (0, 1)
"""
SOME = {"bench-plates": "4,6,16", "science-medals": "8,34,36"}
"""Letters of single lines; words on an arc, with accents and joined, for a laser."""


def run_all(orders: dict[str, str], out: Path, seed: str) -> dict[str, bytes]:
    """Run these orders, by folder with their options, in one process of its own; return the files."""
    ran = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(out), *(f"{folder} {options}" for folder, options in orders.items())],
        env={**os.environ, "PYTHONHASHSEED": seed, **(OLDER if seed == SEEDS[1] else {})},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    return {str(p.relative_to(out)): p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file()}


@pytest.mark.slow
def test_two_processes_write_the_same_bytes(tmp_path):
    orders = {f"{small_order(tmp_path / version, version)}": "" for version in ("R2010", "R12")}
    orders |= {f"{ROOT / 'sample_orders' / name}": f"--rows {rows}" for name, rows in SOME.items()}
    first = run_all(orders, tmp_path / SEEDS[0], SEEDS[0])
    for folder in orders:
        if not folder.endswith("R12"):  # what is cached is the same for both versions
            orders[folder] += " --fresh"
    second = run_all(orders, tmp_path / SEEDS[1], SEEDS[1])
    cut = [Path(name).parts[0] for name in first if name.endswith(".dxf")]
    assert min(cut.count(Path(folder).name) for folder in orders) >= 3
    assert first.keys() == second.keys() and [name for name in first if first[name] != second[name]] == []
