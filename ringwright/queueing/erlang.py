"""The queue of c like servers with random arrivals and random work (M/M/c).

Erlang (1917); Gross, Shortle, Thompson & Harris, Fundamentals of Queueing Theory, 4th ed.,
section 2.3. The blocking probability B is built up server by server, which cannot overflow.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What a queue settles to."""

    use: float
    waits: float
    """Share of the parts that wait at all (Erlang C)."""
    queue: float
    """Parts that wait, on the mean."""
    queue_h: float
    """Hours that a part waits, on the mean."""


def erlang_c(offered: float, servers: int) -> float:
    """Share of arrivals that wait, for an offered load in servers.

    Raises ValueError for no server, a negative load, or a load the servers cannot carry.
    """
    if servers < 1 or offered < 0:
        raise ValueError("a queue has one server or more and a load of 0 or more")
    if offered >= servers:
        raise ValueError("the load is more than the servers carry; the queue has no end")
    blocked = 1.0
    for server in range(1, servers + 1):
        blocked = offered * blocked / (server + offered * blocked)
    use = offered / servers
    return blocked / (1 - use * (1 - blocked))


def waiting(arrivals_per_h: float, work_h: float, servers: int) -> Waiting:
    """The queue of arrivals [1/h] that take so long [h] each. Raises ValueError as above."""
    offered = arrivals_per_h * work_h
    share = erlang_c(offered, servers)
    queue_h = share * work_h / (servers - offered)
    return Waiting(
        use=offered / servers, waits=share, queue=arrivals_per_h * queue_h, queue_h=queue_h
    )
