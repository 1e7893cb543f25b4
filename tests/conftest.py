"""What all tests share."""

import pytest


@pytest.fixture(scope="session", autouse=True)
def kept(tmp_path_factory, worker_id):
    """The folder for what is kept between runs: one for all test processes, so that a letter is measured once, and
    never that of the person who runs the tests. Programs that a test starts find it in their environment."""
    base = tmp_path_factory.getbasetemp()
    folder = (base if worker_id == "master" else base.parent) / "kept"
    folder.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder))
        yield folder
