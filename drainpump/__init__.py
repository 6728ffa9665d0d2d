"""Operating point, cycling and choice of a drainage pump on a long discharge line.

The names of the main job stand here; the others in the rooms `inflow`, `field`, `size`,
`teach` and `plots`. What is where: ``__init__.pyi`` beside this file.
"""

from drainpump.doors import lazily as _lazily

__version__ = "0.2.0"


def _moved(name: str) -> str:
    """Say where a name lives that is in a room, and not here."""
    from importlib.util import find_spec

    from drainpump.doors import offered

    for room, home in (("inflow",) * 2, ("field",) * 2, ("size", "choose.size"), ("teach",) * 2):
        spec = find_spec(f"drainpump.{home}")
        if spec is not None and name in offered(f"{spec.origin}i"):
            return f"drainpump.{name} has moved: it is drainpump.{room}.{name} now"
    return ""


__getattr__, __dir__, __all__ = _lazily(__name__, __file__, _moved)
