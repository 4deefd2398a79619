"""Whether a box gets worse from sample to sample: rising, level or falling."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

STEP_THAT_COUNTS: Final = 0.10
"""Change in the share of the way to the Act bound below which a box counts as level (common
practice, no source: about the reproducibility of a wear metal at the limit)."""


def direction(*, load: NDArray[np.float64], box: NDArray[np.int32]) -> NDArray[np.int8]:
    """Compare each sample with the one before it in the same box.

    Args:
        load: shape (n,), share of the way to the Act bound; samples of one box stand together, in
            the order they were taken.
        box: shape (n,), which box each sample belongs to.

    Returns:
        Shape (n,): 1 rising, 0 level, -1 falling; 0 for the first sample of a box.

    >>> box = np.array([1, 1, 1, 1], dtype=np.int32)
    >>> direction(load=np.array([0.2, 0.5, 0.52, 0.1]), box=box).tolist()
    [0, 1, 0, -1]
    """
    # Rounded, so that 0.2 to 0.3 is a step of a tenth in binary arithmetic too.
    step = np.round(np.diff(load, prepend=load[:1]), 9)
    same_box = np.diff(box, prepend=box[:1] - 1) == 0
    risen = (step >= STEP_THAT_COUNTS).astype(np.int8) - (step <= -STEP_THAT_COUNTS)
    return np.where(same_box, risen, 0).astype(np.int8)
