"""``python -m tests.render_notebooks``: run the notebooks and keep what they show in them."""

from __future__ import annotations

import matplotlib as mpl

from tests.notebook import NOTEBOOKS, keep


def main() -> None:
    """Write anew the notebooks that show something else than what is kept, and name them."""
    mpl.use("Agg")
    for path in NOTEBOOKS:
        print(path.name, "written anew" if keep(path) else "holds")


if __name__ == "__main__":
    main()
