"""A backend that, as a notebook's, keeps every figure of a cell to be shown at its end."""

from matplotlib.backend_bases import FigureManagerBase as FigureManager
from matplotlib.backends.backend_agg import FigureCanvasAgg as FigureCanvas

__all__ = ["FigureCanvas", "FigureManager"]
