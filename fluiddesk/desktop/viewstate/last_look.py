"""What this desk saw when it last closed the fleet page, to tell what has moved since."""

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from fluiddesk.services.fleet_condition import FleetCondition


def look_file(folder: Path, address: str) -> Path:
    """Where the last look at a database is kept, below a folder; its address stays unread."""
    name = hashlib.sha256(address.encode()).hexdigest()[:16]
    return folder / "looks" / f"{name}.json"


def read_look(path: Path | None) -> Mapping[bytes, int] | None:
    """The severity of each box at the last look; ``None`` when there was none to be read."""
    if path is None:
        return None
    try:
        saved = json.loads(path.read_text(encoding="utf-8"))
        return {bytes.fromhex(box): int(severity) for box, severity in saved["boxes"].items()}
    except (OSError, ValueError, KeyError, AttributeError, TypeError):
        return None


def write_look(path: Path, condition: FleetCondition) -> None:
    """Keep what is on screen as the last look, whole or not at all.

    Raises:
        OSError: when the folder cannot be written.
    """
    boxes = {
        row.compartment_id.hex(): int(severity)
        for row, severity in zip(condition.rows, condition.severity.tolist(), strict=True)
    }
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".unfinished")
    unfinished.write_text(
        json.dumps({"seen_on": condition.today.isoformat(), "boxes": boxes}), encoding="utf-8"
    )
    unfinished.replace(path)
