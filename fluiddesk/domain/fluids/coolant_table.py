"""Freezing curves of glycol in water, one value a percent, as data.

Evaluated from the fitted curves of an open library of fluid properties (CoolProp 8.0.0). By mass:
its fluids MEG and MPG (Melinder, properties of secondary working fluids), 0 to 60 %. By volume: its
fluids AEG and APG (ASHRAE Handbook, Fundamentals, 2001), 10 to 60 %; from 0 to 10 % by volume a
straight line to the 0 °C of water is ours. Numbers are °C below zero.

Beside them a second published table: propylene glycol by volume, Lange's Handbook of Chemistry,
15th edition, table 5.13.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray


def _numbers(text: str) -> NDArray[np.float64]:
    return np.array([float(word) for word in text.split()])


BY_MASS_PERCENT: Final = np.arange(0, 61) / 1.0
BY_VOLUME_PERCENT: Final = np.concatenate([[0.0], np.arange(10, 61)])

ETHYLENE_BY_MASS: Final = _numbers(
    """
    0 0.307 0.618 0.934 1.255 1.583 1.918 2.263 2.616 2.981 3.357 3.746 4.148 4.564 4.996 5.443
    5.908 6.390 6.890 7.410 7.949 8.509 9.090 9.693 10.318 10.966 11.639 12.335 13.057 13.803
    14.576 15.375 16.200 17.053 17.933 18.841 19.778 20.743 21.737 22.760 23.813 24.895 26.007
    27.149 28.322 29.524 30.757 32.021 33.315 34.639 35.994 37.380 38.796 40.242 41.718 43.225
    44.761 46.327 47.923 49.547 51.201
    """
)

PROPYLENE_BY_MASS: Final = _numbers(
    """
    0 0.215 0.431 0.669 0.929 1.209 1.508 1.824 2.157 2.505 2.867 3.243 3.632 4.033 4.447 4.872
    5.309 5.758 6.218 6.689 7.173 7.669 8.177 8.699 9.235 9.785 10.351 10.934 11.533 12.151
    12.789 13.448 14.129 14.834 15.564 16.321 17.106 17.921 18.769 19.651 20.568 21.524 22.519
    23.557 24.639 25.767 26.945 28.174 29.457 30.796 32.193 33.653 35.176 36.766 38.426 40.158
    41.965 43.850 45.816 47.866 50.003
    """
)

ETHYLENE_BY_VOLUME: Final = _numbers(
    """
    0 3.619 4.099 4.593 5.101 5.620 6.152 6.694 7.247 7.812 8.388 8.976 9.576 10.190 10.817
    11.460 12.119 12.796 13.491 14.206 14.942 15.700 16.483 17.291 18.125 18.986 19.877 20.797
    21.749 22.732 23.747 24.795 25.877 26.993 28.143 29.327 30.544 31.795 33.079 34.394 35.740
    37.115 38.518 39.947 41.400 42.875 44.369 45.879 47.403 48.937 50.477 52.020
    """
)

PROPYLENE_BY_VOLUME: Final = _numbers(
    """
    0 3.425 3.773 4.127 4.491 4.864 5.249 5.646 6.058 6.484 6.926 7.385 7.861 8.357 8.872 9.408
    9.965 10.545 11.148 11.775 12.427 13.105 13.810 14.542 15.302 16.092 16.913 17.765 18.649
    19.567 20.520 21.509 22.534 23.598 24.702 25.847 27.034 28.265 29.542 30.866 32.238 33.661
    35.136 36.665 38.250 39.892 41.593 43.356 45.182 47.072 49.030 51.057
    """
)

PROPYLENE_HANDBOOK_PERCENT: Final = np.array([5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 45.0, 50.0])
PROPYLENE_HANDBOOK: Final = np.array([1.1, 2.2, 3.9, 6.7, 12.8, 20.6, 26.7, 33.3])
"""Lange's: °C below zero of propylene glycol by volume."""
