"""Write the golden frames anew: ``python -m tests.golden``."""

from __future__ import annotations

import time

from tests.golden.cases import CASES
from tests.golden.plain import FILE, write

if __name__ == "__main__":
    frames = {}
    for name, answer in CASES.items():
        begun = time.perf_counter()
        frames[name] = answer()
        print(f"{name}: {time.perf_counter() - begun:.2f} s")
    write(frames)
    print(f"{len(frames)} cases, {FILE.stat().st_size / 1e6:.2f} MB")
