"""ISO 4406 codes from cumulative particle counts.

The table of ISO 4406:1999, codes 0 to 28 as reproduced in the trade press; a count on an upper edge
belongs to the lower code. Above 2 500 000 per mL the code is 29 (as older editions went on).
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

_UPPER_EDGES: Final = np.array(
    [
        *(0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0),
        *(320.0, 640.0, 1300.0, 2500.0, 5000.0, 10000.0, 20000.0, 40000.0, 80000.0, 160000.0),
        *(320000.0, 640000.0, 1300000.0, 2500000.0),
    ]
)


def codes(counts_per_ml: NDArray[np.float64]) -> NDArray[np.float64]:
    """The code of each count per mL; no particles at all count as code 0.

    >>> codes(np.array([1000.0, 640.0, 5000.0, 0.0])).tolist()
    [17.0, 16.0, 19.0, 0.0]
    """
    found: NDArray[np.float64] = np.searchsorted(_UPPER_EDGES, counts_per_ml, side="left").astype(
        np.float64
    )
    return found
