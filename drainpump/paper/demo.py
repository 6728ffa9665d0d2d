"""The built-in demo site: a market garden of our own invention, every figure made up."""

from __future__ import annotations

from drainpump.data_files import read
from drainpump.paper.job import Job


def market_garden() -> Job:
    """Return the invented market garden: a job without pumps, as in ``market_garden.json``.

    Returns
    -------
    Job

    Examples
    --------
    >>> from drainpump.paper.demo import market_garden
    >>> site = market_garden()
    >>> [line.name for line in site.lines]
    ['1-1/2 in line', '2 in line', '3 in line']
    """
    return Job.from_json(read("paper", "market_garden.json"))
