"""Which interval rules concern some boxes, and which of them holds for a single one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fluiddesk.desktop.viewstate.limit_calls import KnownBox
from fluiddesk.desktop.viewstate.limit_row_fields import interval_sentence
from fluiddesk.desktop.viewstate.limit_versions import scope_words
from fluiddesk.domain.limits.interval_rule import IntervalRule, interval_in_force
from fluiddesk.domain.limits.scope import Box
from fluiddesk.services.catalogue import Catalogue

Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalFilter:
    """The boxes asked about; an empty part means any."""

    compartment_kind: str = ""
    machine_kind: str = ""
    model: str = ""
    box: KnownBox | None = None

    @property
    def is_open(self) -> bool:
        """Whether every rule is let through."""
        return self.box is None and not (self.compartment_kind or self.machine_kind or self.model)

    def lets(self, rule: IntervalRule) -> bool:
        """Whether a rule concerns such boxes, or some of them."""
        if self.box is not None and not rule.scope.covers(_as_box(self.box)):
            return False
        pairs = (
            (self.compartment_kind, rule.scope.compartment_kind),
            (self.machine_kind, rule.scope.machine_kind),
            (self.model, rule.scope.model),
        )
        return all(not wanted or own in ("", wanted) for wanted, own in pairs)

    def places(self, rules: Sequence[IntervalRule]) -> list[int]:
        """The places of the rules let through."""
        return [place for place, rule in enumerate(rules) if self.lets(rule)]

    def told(self, rules: Sequence[IntervalRule], catalogue: Catalogue) -> str:
        """How many rules concern such boxes; for a single box, which one holds."""
        if self.is_open:
            return "1 rule." if len(rules) == 1 else f"{len(rules)} rules."
        count = len(self.places(rules))
        verb = "concerns" if count == 1 else "concern"
        told = f"{count} of {len(rules)} rules {verb} such boxes."
        if self.box is None:
            return told
        held = interval_in_force(rules, _as_box(self.box))
        if held is None:
            return f"{told} None holds for {self.box.title}: its own interval in the register does."
        scope = scope_words(held.scope, catalogue)
        return f"{told} For {self.box.title} that of {scope} holds. {interval_sentence(held)}"


def _as_box(known: KnownBox) -> Box:
    return Box(
        machine_kind=known.machine_kind,
        model=known.model,
        compartment_kind=known.kind,
        compartment=known.compartment.hex(),
        fluid_class="",
    )


def filter_choices(
    rules: Iterable[IntervalRule], boxes: Iterable[KnownBox], catalogue: Catalogue
) -> tuple[Choices, Choices, Choices]:
    """What can be asked about, as (code, words): compartment kinds, machine kinds, models."""
    scopes, known = [rule.scope for rule in rules], list(boxes)
    kinds = {one.compartment_kind for one in scopes} | {one.kind for one in known}
    machines = {one.machine_kind for one in scopes} | {one.machine_kind for one in known}
    models = {one.model for one in scopes} | {one.model for one in known}
    return (
        tuple(
            (one.code, one.name)
            for one in catalogue.compartment_kinds.values()
            if one.code in kinds
        ),
        tuple(
            (one.code, one.name) for one in catalogue.machine_kinds.values() if one.code in machines
        ),
        tuple((one, one) for one in sorted(models - {""})),
    )
