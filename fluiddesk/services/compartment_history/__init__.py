"""One compartment's story: samples, series, limits, events and the verdict in one sentence."""
