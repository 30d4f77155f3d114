"""Patches of cells of a lattice of settings that lie side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.geometry.mesh import Flags, Ids


def patches_of(marked: Flags, counts: Sequence[int]) -> Ids:
    """Number (N,) of the patch that each of the ``marked`` (N,) cells lies in, from 1 on; 0 of those that are not.

    ``counts``: cells of the lattice along each drive. Drives along which there is one are left out of the count of
    neighbours, which grows as a power of the drives.
    """
    from scipy.ndimage import label  # costs a tenth of a second, and only maps and ranges label cells

    sides = [count for count in counts if count > 1] or [1]
    return np.asarray(label(marked.reshape(sides))[0].reshape(-1), dtype=np.intp)
