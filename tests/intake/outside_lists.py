"""Other people's spreadsheets: every sheet and text table in the source packages of libraries that read such files.

`python tests/intake/outside_lists.py --fetch` downloads the packages with pip into `tests/outside/` (not committed)
and reads everything; without --fetch it reads what is there. Each file is read with all rows accounted for, or
refused with a message; anything else is printed with its traceback and makes the exit status 1.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
import traceback
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from pipeline.commands.start_command import start  # noqa: E402
from pipeline.core.errors import CannotRun  # noqa: E402
from pipeline.intake.order.order_file import read_order  # noqa: E402
from pipeline.intake.recipients.read_list import read_list  # noqa: E402

OUTSIDE = ROOT / "tests" / "outside"
PACKAGES = ("csvkit==2.2.0", "agate-excel==0.4.2", "odfpy==1.4.1", "tablib==3.10.0", "ftfy==6.3.1")
"""Source packages on PyPI that carry spreadsheets (MIT, MIT, Apache-2.0 or GPL, MIT), and ftfy with its cases
(Apache-2.0). Those of openpyxl, XlsxWriter and
xlrd carry none; those of pandas and python-calamine cannot be fetched without compiling them."""
ENDINGS = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods", ".csv", ".tsv")


def fetch() -> None:
    """Download and unpack the source packages: only files with the suffix of a list."""
    OUTSIDE.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        for package in PACKAGES:
            name = package.partition("==")[0]
            command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--no-binary", name, "-d", folder]
            subprocess.run([*command, package], check=True)
        for archive in sorted(Path(folder).glob("*.tar.gz")):
            with tarfile.open(archive) as packed:
                for part in packed.getmembers():
                    if part.name.endswith("tests/test_cases.json"):
                        cases = packed.extractfile(part)
                        assert cases is not None
                        (OUTSIDE / "ftfy-test_cases.json").write_bytes(cases.read())
                    if part.isfile() and part.name.lower().endswith(ENDINGS):
                        data = packed.extractfile(part)
                        assert data is not None
                        (OUTSIDE / part.name.replace("/", "__")).write_bytes(data.read())


def look(path: Path) -> tuple[str, str]:
    """Return ("read", count) or ("refused", reason)."""
    with tempfile.TemporaryDirectory() as folder:
        order = Path(folder) / "order"
        try:
            start(path, folder=order, say=lambda text: None)
        except CannotRun as problem:
            return "refused", str(problem.faults[0]).removeprefix(str(path)).lstrip(" ,:")
        done = read_list(read_order(order))
    rows = [a.row for a in done.account]
    assert len(rows) == len(set(rows)) == done.rows, "the rows do not add up"
    kept = [a for a in done.account if a.fate != "left-out"]
    assert len(kept) == len(done.recipients), "recipients and rows differ"
    return "read", f"{done.rows} rows, {len(kept)} recipients, {len(rows) - len(kept)} left out"


def main() -> int:
    if "--fetch" in sys.argv:
        fetch()
    tally: Counter[str] = Counter()
    wrong = 0
    for path in sorted(p for p in OUTSIDE.iterdir() if p.suffix != ".json") if OUTSIDE.is_dir() else ():
        try:
            what, said = look(path)
        except Exception:
            wrong += 1
            print(f"WRONG    {path.name}\n{traceback.format_exc()}")
            continue
        tally[f"{path.suffix} {what}"] += 1
        print(f"{what:8} {path.name}: {said[:150]}")
    print(dict(sorted(tally.items())), f"{wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
