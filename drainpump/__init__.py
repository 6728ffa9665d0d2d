"""Operating point, cycling and choice of a drainage pump on a long discharge line."""
