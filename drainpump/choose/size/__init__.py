"""The question turned round: how long, how high, how narrow, which floats, which duty."""

from drainpump.doors import lazily as _lazily

__getattr__, __dir__, __all__ = _lazily(__name__, __file__)
