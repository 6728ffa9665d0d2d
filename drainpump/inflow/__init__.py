"""The water: rain, catchments, seepage, and what of it reaches the pit."""

from drainpump.doors import lazily as _lazily

__getattr__, __dir__, __all__ = _lazily(__name__, __file__)
