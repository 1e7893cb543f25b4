"""Loads ezdxf so that nothing in the user's folders can stop a run or change its results.

On import, the library reads its settings file from the user's configuration folder and the current folder, and a list
of the system's fonts from the user's cache folder. Modules that import it at the top are imported after `load`.
"""

from __future__ import annotations

import contextlib
import logging
import os
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

_FONTS = Path("ezdxf", "font_manager_cache.json")


def load() -> None:
    """Import ezdxf, with its own settings. Where what lies in the user's folders keeps it from being imported, it is
    imported with empty folders in their places, which takes longer: it then looks for the system's fonts."""
    if "ezdxf" not in sys.modules:
        logging.getLogger("ezdxf").addHandler(logging.NullHandler())
        try:
            _require_plain_or_absent(Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / _FONTS)
            import ezdxf
        except (Exception, SystemExit):
            for name in [name for name in sys.modules if name.partition(".")[0] == "ezdxf"]:
                del sys.modules[name]
            with (
                tempfile.TemporaryDirectory() as empty,
                _change_environment(_list_variables(empty)),
                contextlib.chdir(empty),
            ):
                import ezdxf
        ezdxf.options.reset()  # type: ignore[attr-defined, no-untyped-call]


def _require_plain_or_absent(file: Path) -> None:
    if file.exists() and not file.is_file():  # reading a pipe would never finish
        raise OSError(f"{file} is not a file")


def _list_variables(folder: str) -> Mapping[str, str]:
    return {"XDG_CACHE_HOME": folder, "XDG_CONFIG_HOME": folder, "EZDXF_CONFIG_FILE": ""}


@contextlib.contextmanager
def _change_environment(values: Mapping[str, str]) -> Iterator[None]:
    """The environment with these values."""
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
