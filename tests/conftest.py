"""Fixtures and hooks of all tests."""

import gc
import sys
from collections import Counter

import ezdxf  # noqa: F401 (a file of others is read by a copy of this process: what is loaded here, it need not load)
import odfdo  # noqa: F401
import openpyxl  # noqa: F401
import pikepdf  # noqa: F401
import pypdfium2  # noqa: F401
import pytest
import python_calamine  # noqa: F401
import xlrd  # noqa: F401
from hypothesis import HealthCheck, settings

settings.register_profile(
    "suite", deadline=None, derandomize=True, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("suite")  # the same cases everywhere, and none that fails because a machine is busy


def pytest_collection_modifyitems(items):
    """Run the longest tests first: no process is left alone with one at the end, and these, which run and fork most,
    have a small heap."""
    items.sort(key=lambda item: "kept_equals_fresh" not in item.nodeid)


def pytest_collection_finish():
    """Exempt thousands of tests and their imports from garbage collection: they stay until the end."""
    gc.collect()
    gc.freeze()


def pytest_terminal_summary(terminalreporter):
    """List what this machine couldn't try, and what it lacks, so that nothing is skipped silently."""
    skipped = terminalreporter.stats.get("skipped", [])
    reasons = Counter(report.longrepr[2].removeprefix("Skipped: ") for report in skipped)
    if reasons:
        terminalreporter.section(f"{sum(reasons.values())} tests not tried on this machine", sep="-")
        for reason, count in sorted(reasons.items()):
            terminalreporter.line(f"{count:4} × {reason}")


@pytest.fixture(scope="session", autouse=True)
def kept(tmp_path_factory, worker_id):
    """Return the cache folder of all test processes: shared, so that a letter is measured once, and never that of
    the person who runs the tests. Programs that a test starts find it in their environment; their modules are
    compiled once for all of them, beside it, wherever Python keeps no compiled modules or may not."""
    base = tmp_path_factory.getbasetemp()
    shared = base if worker_id == "master" else base.parent
    folder = shared / "kept"
    folder.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder))
        if sys.dont_write_bytecode:
            patch.setenv("PYTHONPYCACHEPREFIX", str(shared / "compiled"))
            patch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)
        yield folder
