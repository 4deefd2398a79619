"""What a limit or an interval applies to, and what of a compartment decides that."""

from dataclasses import dataclass

from fluiddesk.domain.errors import OperatorError


class LimitError(OperatorError):
    """A limit contradicts itself; the text names the limit and what to change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """What of a compartment decides which limits hold for it."""

    machine_kind: str
    model: str
    compartment_kind: str
    compartment: str
    fluid_class: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """What a limit applies to; an empty field means "any".

    ``compartment`` is the hex of a compartment's identifier.
    """

    machine_kind: str = ""
    model: str = ""
    compartment_kind: str = ""
    compartment: str = ""
    fluid_class: str = ""

    @property
    def rank(self) -> int:
        """How specific the scope is: fleet, machine kind, model, model and box, single box.

        The compartment kind alone does not raise the rank above the machine kind, since nearly
        every limit names one; it breaks ties, and so does the fluid class, inside one rank.
        """
        if self.compartment:
            return 4
        if self.model:
            return 3 if self.compartment_kind else 2
        return 1 if self.machine_kind else 0

    @property
    def specificity(self) -> tuple[int, int, int, int, int]:
        """Sort key: the highest wins. Two scopes that cover one box and tie here are the same."""
        return (
            self.rank,
            int(bool(self.compartment_kind)),
            int(bool(self.fluid_class)),
            int(bool(self.model)),
            int(bool(self.machine_kind)),
        )

    def covers(self, box: Box) -> bool:
        """Whether the limit applies to this box."""
        return (
            self.machine_kind in ("", box.machine_kind)
            and self.model in ("", box.model)
            and self.compartment_kind in ("", box.compartment_kind)
            and self.compartment in ("", box.compartment)
            and self.fluid_class in ("", box.fluid_class)
        )

    @property
    def text(self) -> str:
        """The scope in words."""
        parts = [
            self.machine_kind.replace("_", " "),
            self.model,
            self.compartment_kind.replace("_", " "),
            f"box {self.compartment[-8:]}" if self.compartment else "",
            self.fluid_class.replace("_", " "),
        ]
        return " / ".join(part for part in parts if part) or "whole fleet"
