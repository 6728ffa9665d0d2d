"""Published values the library is checked against: each module lists its ``CHECKS``."""
