"""Every impossible number at every key of an order: each is refused, with a message that names the key.

    python -m tests.long.bad_numbers

`tests/core/test_bad_numbers.py` tries a quarter of them.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.core.test_bad_numbers import try_bad_numbers

if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        print(f"{try_bad_numbers(Path(folder), 1)} numbers refused")
