"""The sample fleet: an invented story, played once into a database of its own."""

import hashlib
import tomllib
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from fluiddesk import __version__, assets
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.founding import found
from fluiddesk.services.simulated_fleet.setting import setting_of
from fluiddesk.services.simulated_fleet.write import fill_database, write_truth
from fluiddesk.simulation.story import PlayedStory, Story, play_story, read_story

Progress = Callable[[int, int | None], bool]


def sample_fingerprint() -> str:
    """Changes with the story, the catalogues and the program: then the fleet is played again."""
    digest = hashlib.sha256(__version__.encode())
    package = Path(__file__).resolve().parent.parent
    parts = [
        assets.sample_story("story.toml"),
        *sorted(assets.resource("catalogue").rglob("*.toml")),
        *sorted((package / "simulation").rglob("*.py")),
        *sorted((package / "services").rglob("*.py")),
        *sorted((package / "storage").rglob("*.py")),
    ]
    for part in parts:
        digest.update(part.read_bytes())
    return digest.hexdigest()[:16]


def sample_story() -> Story:
    """The story of the sample fleet, not yet played."""
    return read_story(tomllib.loads(assets.sample_story("story.toml").read_text(encoding="utf-8")))


def played_sample_fleet() -> PlayedStory:
    """The story of the sample fleet, played: fleet, truth and the laboratory files that wait."""
    catalogue = load_catalogue()
    story = sample_story()
    return play_story(setting_of(catalogue, on=story.plan.first_day), story)


def play_sample_fleet(address: str, *, moment: datetime, progress: Progress | None = None) -> None:
    """Play the story into a new database, with the truth in a file beside it."""
    catalogue = load_catalogue()
    played = played_sample_fleet()
    found(address, catalogue, who="sample fleet", moment=moment)
    fill_database(
        address,
        played.fleet,
        catalogue,
        moment=moment,
        programme=sample_story().programme,
        progress=progress,
    )
    write_truth(Path(address), played.truth)
