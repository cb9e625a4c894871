"""From values to shades of grey, as the standard has it."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

WHITEST: Final = 255.0
LEAST_WINDOW: Final = 1.0


def windowed(values: NDArray[Any], level: float, window: float) -> NDArray[np.float32]:
    """Shades from 0 to 255 by the linear function of DICOM PS3.3 2025b, C.11.2.1.2.1.

    With centre c and width w (at least 1), y runs from 0 to 255:
    x <= c - 0.5 - (w - 1) / 2: 0; x > c - 0.5 + (w - 1) / 2: 255;
    else ((x - (c - 0.5)) / (w - 1) + 0.5) * 255.
    """
    real = values.astype(np.float32, copy=False)
    low = level - 0.5 - (window - 1) / 2
    if window <= LEAST_WINDOW:
        return np.where(real <= low, np.float32(0), np.float32(WHITEST))
    shades: NDArray[np.float32] = ((real - (level - 0.5)) / (window - 1) + 0.5) * WHITEST
    return np.clip(shades, np.float32(0), np.float32(WHITEST))
