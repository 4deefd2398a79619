"""What the choices of the register's forms are made of."""

from collections import Counter
from dataclasses import dataclass

from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.facts import CompartmentFacts, RegisterFacts

Choices = tuple[tuple[str, str], ...]
"""What is saved and what is shown, of each choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offers:
    """What the choices of a form are made of."""

    facts: RegisterFacts
    catalogue: Catalogue
    layouts: tuple[str, ...] = ()

    @property
    def sites(self) -> Choices:
        """Sites by number."""
        return tuple((str(int(one.site)), one.name) for one in self.facts.sites)

    @property
    def fluids(self) -> Choices:
        """Fluids in use, by code."""
        return tuple((one.code, one.name) for one in self.facts.fluids if not one.retired)

    @property
    def machine_kinds(self) -> Choices:
        """Kinds of machines with a template."""
        return tuple((one.code, one.name) for one in self.catalogue.machine_kinds.values())

    @property
    def box_kinds(self) -> Choices:
        """Kinds of compartments."""
        return tuple((one.code, one.name) for one in self.catalogue.compartment_kinds.values())

    @property
    def test_lists(self) -> Choices:
        """Test lists in use; the empty one is the usual one of the kind."""
        held = ((one.code, one.name) for one in self.facts.test_lists if not one.retired)
        return (("", "The usual one"), *held)

    @property
    def laboratories(self) -> Choices:
        """Laboratories in use, by code."""
        return tuple((one.code, one.name) for one in self.facts.laboratories if not one.retired)

    @property
    def boxes(self) -> Choices:
        """Compartments in use of the machines that are here, by identifier in hexadecimal.

        A number that several sites use is told with its site.
        """
        here = [one for one in self.facts.machines if not one.went_to]
        sites = {one.id: one.site_name for one in here}
        often = Counter(one.code for one in here)
        return tuple(
            (bytes(one.id).hex(), _box_words(one, sites[one.machine], often[one.machine_code] > 1))
            for one in self.facts.compartments
            if not one.retired and one.machine in sites
        )

    @property
    def stores(self) -> Choices:
        """Tanks in use and deliveries of every site, by identifier in hexadecimal."""
        names = {one.code: one.name for one in self.facts.fluids}
        sites = {one.site: one.name for one in self.facts.sites}
        tanks = (
            (one.id.hex(), f"Tank {one.code}, {names.get(one.fluid, one.fluid)}, {sites[one.site]}")
            for one in self.facts.tanks
            if not one.retired
        )
        deliveries = (
            (
                one.id.hex(),
                f"Delivery {one.batch}, {names.get(one.fluid, one.fluid)}, {sites[one.site]}",
            )
            for one in self.facts.batches
        )
        return (*tanks, *deliveries)


def _box_words(box: CompartmentFacts, site: str, is_told: bool) -> str:  # noqa: FBT001
    words = f"{box.machine_code}, {box.name}"
    return f"{words}, {site}" if is_told else words
