"""The vectors of a cloud that lie nearest to those wanted."""

from __future__ import annotations

import numpy as np

from ringwright.balance.pool import Floats, Ints, Vectors


def nearest(cloud: Vectors, wanted: Vectors, many: int) -> tuple[Floats, Ints]:
    """(distance, place in the cloud) of the `many` nearest, each of shape (wanted, many).

    `many` is no more than the cloud holds.
    """
    # Here, since it takes longer to load than a set takes to order, and few questions need it.
    from scipy.spatial import cKDTree

    tree = cKDTree(np.column_stack([cloud.real, cloud.imag]))
    gaps, places = tree.query(np.column_stack([wanted.real, wanted.imag]), k=many)
    shape = (len(wanted), many)
    return np.asarray(gaps).reshape(shape), np.asarray(places, dtype=np.intp).reshape(shape)
