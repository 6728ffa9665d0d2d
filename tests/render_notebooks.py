"""``python -m tests.render_notebooks``: run the notebooks and keep what they show in them.

README's two pictures are made anew with them, by README's own code.

What still holds is left as it is; ``--all`` draws every picture anew, as after a change of looks.
"""

from __future__ import annotations

import contextlib
import io
import re
import shutil
import sys
import tempfile
from pathlib import Path

import matplotlib as mpl

from drainpump.__main__ import main as command
from tests.notebook import FIGURES, NOTEBOOKS, ROOT, keep, telling


def main() -> None:
    """Write anew the notebooks that show something else than what is kept, and name them."""
    anew = "--all" in sys.argv
    mpl.use("Agg")
    for path in NOTEBOOKS:
        print(path.name, "written anew" if keep(path, anew) else "holds")
    code = "".join(
        re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)[:2]
    )
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder), telling():
        with contextlib.redirect_stdout(io.StringIO()):
            exec(code, {})
            command([str(ROOT / "curves_demo")])
        for made, kept in (("drainpump_duty", "duty"), ("waterfall", "waterfall")):
            shutil.copyfile(Path(f"{made}.png"), FIGURES / f"{kept}.png")


if __name__ == "__main__":
    main()
