"""Load modules of the tests that are run as scripts and can't be imported by a package's name."""

from __future__ import annotations

import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

TESTS = Path(__file__).resolve().parent


def load_script(path: str) -> ModuleType:
    """Load a module by its path below `tests`; its dataclasses need it in sys.modules."""
    file = TESTS / path
    spec = spec_from_file_location(file.stem, file)
    if spec is None or spec.loader is None:
        raise ImportError(f"{file} is no module")
    module = module_from_spec(spec)
    sys.modules[file.stem] = module
    spec.loader.exec_module(module)
    return module
