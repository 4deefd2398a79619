"""What every use case needs to hand: the store, the catalogue and who is working."""

from dataclasses import dataclass

from fluiddesk.services.catalogue import Catalogue
from fluiddesk.storage import DeskStore


@dataclass(frozen=True, slots=True, kw_only=True)
class Workplace:
    """One open database with the catalogue it is read by and the name of the desk user."""

    store: DeskStore
    catalogue: Catalogue
    who: str
