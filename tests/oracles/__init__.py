"""Solvers written apart from the library, from the textbook: plain numpy and scipy, slow and short.

Nothing here imports `drainpump`. Everything is SI: m, m³/s, s; heads in metres of water.
"""
