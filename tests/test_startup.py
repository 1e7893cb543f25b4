"""What a command doesn't import: libraries that are slow to load are imported only for the work that needs them."""

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.test_every_stop import draw_plate

ROOT = Path(__file__).parents[1]

DRAWINGS, PAPERS = {"ezdxf", "fontTools.ttLib"}, {"reportlab", "pikepdf"}
PAPERS_AND_DRAWINGS = DRAWINGS | PAPERS | {"PIL"}  # those for papers load pictures
OF_OTHER_ORDERS = {"ftfy", "multiprocessing", "ssl", "xml.etree"}
"""For lists with garbled words, long lists, SVG and PDF files."""
DRAWS_AND_READS_BACK = {"reportlab", "pikepdf", "PIL", "python_calamine"}
"""What draws the papers and what else those need, and what reads papers back for the accounts."""
OF_OTHER_LISTS = {"openpyxl", "python_calamine", "xlrd"}
OF_COMPUTING = {"numpy", "shapely", "pydantic", "uharfbuzz", "pathops", "pyvoronoi", "xlsxwriter", "sqlite3", "babel"}

ORDER = """\
title = "Shore wardens"
[list]
file = "names.csv"
columns = { name = "Name" }
[blank]
drawing = "plaque.dxf"
layers = { edge = "EDGE", zone = "LETTERING", pocket = "POCKET" }
thickness = 19.0
[cutter]
use = "vbit-60"
[[line]]
text = "{name}"
face = "noto-sans"
cap_height = 6.0
tracking = 60
[finish]
sanded_off = 0.1
compensate = true
"""

PROGRAM = """\
import json, sys
from pipeline.cli import main
try:
    status = main(sys.argv[1:])
except SystemExit as ended:
    status = ended.code
print("\\n" + json.dumps([status, sorted(sys.modules)]))
"""


def loaded_by(*words: str, kept: Path | None = None) -> set[str]:
    """Return the modules loaded in a new process by `plaques` with these arguments."""
    environment = {**os.environ, **({"XDG_CACHE_HOME": str(kept), "HOME": str(kept)} if kept else {})}
    ran = subprocess.run(
        [sys.executable, "-c", PROGRAM, *words], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    *said, last = ran.stdout.splitlines()
    status, modules = json.loads(last)
    assert status == 0, "\n".join(said)
    return set(modules)


def test_help_and_explain_load_no_computing_library():
    heavy = PAPERS_AND_DRAWINGS | OF_OTHER_LISTS | OF_COMPUTING
    assert not loaded_by("--help") & heavy
    explained = loaded_by("explain", "fit.too-long")
    assert "pipeline.core.catalogue" in explained
    assert not explained & (heavy - {"babel"})  # client texts come from the catalogues


def small_order(folder: Path) -> Path:
    folder.mkdir()
    (folder / "order.toml").write_text(ORDER, encoding="utf-8")
    (folder / "names.csv").write_text("Name\nAda Rén\nRan Déa\n", encoding="utf-8")
    (folder / "plaque.dxf").write_text(draw_plate(blocked=False, pocket=True), encoding="utf-8")
    return folder


def test_what_is_kept_loads_no_library_of_drawings_and_a_check_none_of_papers(tmp_path):
    """A check of the same names, and a run of others in the same letters."""
    folder = small_order(tmp_path / "order")
    first = loaded_by("run", str(folder), kept=tmp_path / "kept")
    assert "ezdxf" in first  # the blank is read, and the frame of the cut files made, once
    checked = loaded_by("check", str(folder), kept=tmp_path / "kept")
    assert {"numpy", "shapely"} <= checked
    reads_back = {"python_calamine"}  # the check sheet, for the accounts
    assert not checked & (PAPERS_AND_DRAWINGS | OF_OTHER_LISTS | OF_OTHER_ORDERS) - reads_back
    (folder / "names.csv").write_text("Name\nDan Réa\nAda Dén\n", encoding="utf-8")
    again = loaded_by("run", str(folder), kept=tmp_path / "kept")
    assert again >= DRAWS_AND_READS_BACK
    assert not again & (PAPERS_AND_DRAWINGS | OF_OTHER_LISTS) - DRAWS_AND_READS_BACK


def test_no_plug_in_of_another_package_is_loaded(tmp_path):
    """One that pydantic would find and load in anything that uses it (its documented entry point)."""
    (tmp_path / "loud-1.0.dist-info").mkdir()
    (tmp_path / "loud-1.0.dist-info" / "entry_points.txt").write_text("[pydantic]\nloud = loud:plugin\n")
    (tmp_path / "loud.py").write_text("print('heard')\nplugin = None\n")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join((str(tmp_path), str(ROOT)))}

    def said(*words: str) -> str:
        command = [sys.executable, *words]
        return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False).stdout

    assert "heard" in said("-c", "import pipeline.core.config.order")
    checked = said("-m", "pipeline", "check", str(small_order(tmp_path / "order")))
    assert "In " in checked and "heard" not in checked
