"""``python -m tests.render_notebooks``: run the notebooks and keep what they show in them.

What still holds is left as it is; ``--all`` draws every picture anew, as after a change of looks.
"""

from __future__ import annotations

import sys

import matplotlib as mpl

from tests.notebook import NOTEBOOKS, keep


def main() -> None:
    """Write anew the notebooks that show something else than what is kept, and name them."""
    anew = "--all" in sys.argv
    mpl.use("Agg")
    for path in NOTEBOOKS:
        print(path.name, "written anew" if keep(path, anew) else "holds")


if __name__ == "__main__":
    main()
