"""Other libraries' files and settings in the user's folders neither stop a run nor change its result."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
FONTS = "cache/ezdxf/font_manager_cache.json"
SETTINGS = "config/ezdxf/ezdxf.ini"
HERE = "ezdxf.ini"
PROGRAM = """
from pipeline.core.environment import drawing_library
drawing_library.load()
import ezdxf, os
ezdxf.new("R2010")
assert not ezdxf.options.write_fixed_meta_data_for_testing
print(os.environ["XDG_CACHE_HOME"], os.getcwd())
"""


@pytest.mark.parametrize(
    ("name", "text"),
    [
        (FONTS, "[]"),
        (FONTS, "garbage"),
        (FONTS, None),
        (SETTINGS, "no section"),
        (SETTINGS, "[core]\nwrite_fixed_meta_data_for_testing = true\n"),
        (HERE, "[core\n"),
    ],
)
def test_files_in_the_user_s_folders_do_not_matter(tmp_path, name, text):
    file = tmp_path / name
    file.parent.mkdir(parents=True, exist_ok=True)
    if text is not None:
        file.write_text(text)
    elif hasattr(os, "mkfifo"):
        os.mkfifo(file)
    env = {**os.environ, "XDG_CACHE_HOME": str(tmp_path / "cache"), "XDG_CONFIG_HOME": str(tmp_path / "config")}
    env["PYTHONPATH"] = str(ROOT)
    ran = subprocess.run(
        [sys.executable, "-c", PROGRAM], check=False, cwd=tmp_path, env=env, capture_output=True, text=True, timeout=60
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.split() == [str(tmp_path / "cache"), str(tmp_path)]  # and everything is unchanged
