"""Lessons: rules of thumb beside the truth, and worksheets."""

from drainpump.doors import lazily as _lazily

__getattr__, __dir__, __all__ = _lazily(__name__, __file__)
