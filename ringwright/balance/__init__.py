"""The arithmetic of blade sets: which blades, in which slots. Pure: no web, no SQL, no clock.

The problem is that of G. Laporte and H. Mercure, "Balancing hydraulic turbine runners: a
quadratic assignment problem", European Journal of Operational Research 35 (1988), and of W.
Choi and R. H. Storer, "Heuristic algorithms for a turbine-blade-balancing problem", Computers &
Operations Research 31 (2004): mass moments on equally spaced slots, so that they cancel.
"""
