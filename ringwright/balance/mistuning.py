"""What the literature says of blades that differ in frequency. Information only.

Nothing here predicts how a disc of blades vibrates. The largest amplification of one blade's
amplitude that mistuning can cause is ½(1+√N) for N blades (D. S. Whitehead, "Effect of
mistuning on the vibration of turbo-machine blades induced by wakes", Journal of Mechanical
Engineering Science 8, 1966; from memory). Alternate mistuning, high and low in turn, is one
deliberate pattern among others.
"""

from __future__ import annotations

import math


def amplification_bound(slots: int) -> float:
    """½(1+√N): amplitude of the worst blade over that of a tuned disc, at most."""
    return (1.0 + math.sqrt(slots)) / 2.0
