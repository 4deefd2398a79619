"""Where the figures behind a claim are written down."""

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

FULL = os.environ.get("FLUIDDESK_CLAIMS") == "1"
"""Whether the long simulations are asked for; the short ones run always."""


def write_report(name: str, figures: Mapping[str, Any]) -> None:
    """Write the figures of one claim to ``build/claims/NAME.json``, of a long simulation only."""
    if FULL:
        folder = Path(__file__).parents[2] / "build" / "claims"
        folder.mkdir(parents=True, exist_ok=True)
        text = json.dumps(figures, indent=2, sort_keys=True) + "\n"
        (folder / f"{name}.json").write_text(text, encoding="utf-8")
