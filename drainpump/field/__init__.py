"""Does it still work: tests on site, what they say, what to do next."""

from drainpump.doors import lazily as _lazily

__getattr__, __dir__, __all__ = _lazily(__name__, __file__)
