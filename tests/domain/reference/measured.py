"""The series of published examples, with their "less than" marks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.domain.reference.reading import worked_examples


@dataclass(frozen=True)
class Measured:
    """One published series; ``at`` is empty where the example has no time axis."""

    at: NDArray[np.float64]
    values: NDArray[np.float64]
    below: NDArray[np.bool_]


def _read(row: dict[str, str]) -> Measured:
    texts = row["values"].split()
    return Measured(
        at=np.array(row["at"].split(), dtype=np.float64),
        values=np.array([text.removeprefix("<") for text in texts], dtype=np.float64),
        below=np.array([text.startswith("<") for text in texts]),
    )


SERIES = {row["id"]: _read(row) for row in worked_examples("statistics_series")}
