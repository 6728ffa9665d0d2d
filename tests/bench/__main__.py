"""``python -m tests.bench [NAME ...]``: run the benches, all or the named ones."""

from __future__ import annotations

import os

# one core, whatever the machine has: set before numpy is loaded
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import importlib  # noqa: E402
import pkgutil  # noqa: E402
import sys  # noqa: E402

import tests.bench as here  # noqa: E402


def main() -> None:
    """Run each bench module's ``main``."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    skip = {"__main__", "timing", "compiled"}
    names = [m.name for m in pkgutil.iter_modules(here.__path__) if m.name not in skip]
    for name in sys.argv[1:] or names:
        print(f"-- {name}")
        importlib.import_module(f"tests.bench.{name}").main()


if __name__ == "__main__":
    main()
