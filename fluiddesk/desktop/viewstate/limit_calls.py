"""What the Rules page asks of the services; imported when first called, as some load slowly."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from fluiddesk.domain.errors import CannotWriteError, NotFoundError, OperatorError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.limit_set import Limit, LimitSet, Scope
from fluiddesk.services.changes import Changes
from fluiddesk.services.limit_rules.facts import (
    Activated,
    BoxLimits,
    Checked,
    Derived,
    DraftFacts,
    Edited,
    Imported,
    LastYear,
    Latest,
    RowChange,
    RowEdit,
    SetFacts,
    Spread,
)
from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from fluiddesk.services.catch_chances.facts import ChanceColumns
    from fluiddesk.services.limit_rules.derive_readiness import GroupReadiness
    from fluiddesk.services.limit_rules.reach import Reach
    from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet


class Telling(Protocol):
    """Told how far work is; answers whether to go on."""

    def __call__(self, done: int, total: int | None) -> bool: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownBox:
    """A box that a row can be written for."""

    compartment: CompartmentId
    machine: str
    name: str
    kind: str
    machine_kind: str
    model: str

    @property
    def title(self) -> str:
        """The box as it is written and chosen: "EX-105, Engine"."""
        return f"{self.machine}, {self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PageFacts:
    """What the page shows of one limit set. ``opened`` is ``None`` while there is no set at all.

    ``box_names`` are the names of the boxes that have rows of their own, by hex identifier.
    """

    sets: tuple[SetFacts, ...]
    opened: DraftFacts | None
    base: LimitSet | None = None
    box_names: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class LimitCalls:
    """The use cases of the page on one workplace."""

    place: Workplace

    def page(self, number: int | None, *, today: date) -> PageFacts:
        """The history, and one set: the one asked for, else the one in force, else the newest."""
        from fluiddesk.services.limit_rules.versions import limit_sets, read_set

        sets = limit_sets(self.place, today=today)
        chosen = next((one for one in sets if one.number == number), None)
        held = next((one for one in sets if one.holds_today), None)
        shown = chosen or held or next(iter(sets), None)
        if shown is None:
            return PageFacts(sets=(), opened=None)
        base = None
        if shown.based_on is not None and any(one.number == shown.based_on for one in sets):
            base = read_set(self.place, shown.based_on).limit_set
        opened = read_set(self.place, shown.number)
        names = self._box_names(opened.limit_set, today=today)
        return PageFacts(sets=sets, opened=opened, base=base, box_names=names)

    def _box_names(self, limit_set: LimitSet, *, today: date) -> dict[str, str]:
        own = {one.scope.compartment for one in limit_set.limits}
        own |= {one.scope.compartment for one in limit_set.intervals}
        own -= {""}
        boxes = self.boxes(today=today) if own else ()
        names = {one.compartment.hex(): one.title for one in boxes}
        return {code: names[code] for code in own & names.keys()}

    def draft_from(self, number: int, *, name: str, note: str, moment: datetime) -> DraftFacts:
        """Copy a set into a new draft."""
        from fluiddesk.services.limit_rules.versions import draft_from

        return draft_from(self.place, number, name=name, note=note, moment=moment)

    def save(
        self, number: int, edits: Sequence[RowEdit], *, version: int, moment: datetime
    ) -> Edited:
        """Save edits of a draft."""
        from fluiddesk.services.limit_rules.versions import edit_draft

        return edit_draft(self.place, number, edits, version=version, moment=moment)

    def discard(self, number: int, *, version: int, moment: datetime) -> Changes:
        """Throw a draft away."""
        from fluiddesk.services.limit_rules.versions import discard_draft

        return discard_draft(self.place, number, version=version, moment=moment)

    def compare(self, first: int, second: int) -> tuple[RowChange, ...]:
        """The rows in which two sets differ."""
        from fluiddesk.services.limit_rules.versions import compare

        return compare(self.place, first, second)

    def check(self, number: int, *, today: date) -> Checked:
        """Everything that is wrong with a set, or odd."""
        from fluiddesk.services.limit_rules.check import check

        return check(self.place, number, today=today)

    def activate(
        self,
        number: int,
        *,
        valid_from: date,
        note: str,
        version: int,
        today: date,
        moment: datetime,
        progress: Telling,
    ) -> Activated:
        """Put a draft in force and judge the fleet by it."""
        from fluiddesk.services.limit_rules.activate import activate

        return activate(
            self.place,
            number,
            valid_from=valid_from,
            note=note,
            version=version,
            today=today,
            moment=moment,
            progress=progress,
        )

    def hold_earlier(
        self,
        number: int,
        *,
        valid_from: date,
        note: str,
        today: date,
        moment: datetime,
        progress: Telling,
    ) -> Activated:
        """Let the set in force hold from an earlier day."""
        from fluiddesk.services.limit_rules.activate import hold_earlier

        return hold_earlier(
            self.place,
            number,
            valid_from=valid_from,
            note=note,
            today=today,
            moment=moment,
            progress=progress,
        )

    def reach(self, fleet: "WhatIfFleet", days: Sequence[date]) -> "tuple[Reach, ...]":
        """How many samples were drawn since each of some days."""
        from fluiddesk.services.limit_rules.reach import reach

        return reach(fleet, days)

    def box_limits(self, compartment: CompartmentId, *, day: date) -> BoxLimits:
        """Which limits hold for a box, and which they overrode."""
        from fluiddesk.services.limit_rules.holds import box_limits

        return box_limits(self.place, compartment, day=day)

    def open_fleet(self, *, today: date, progress: Telling) -> "WhatIfFleet":
        """Load the fleet's figures once, for previews, spreads and derivations."""
        from fluiddesk.services.limit_rules.what_if_fleet import open_what_if

        return open_what_if(self.place, today=today, progress=progress)

    def latest(self, fleet: "WhatIfFleet", draft: LimitSet, *, progress: Telling) -> Latest:
        """The latest sample of every box by the set in force and by a draft."""
        from fluiddesk.services.limit_rules.what_if import what_if_latest

        return what_if_latest(fleet, draft, progress=progress)

    def year(self, fleet: "WhatIfFleet", draft: LimitSet, *, progress: Telling) -> LastYear:
        """The last year's samples by the set in force and by a draft."""
        from fluiddesk.services.limit_rules.what_if import what_if_year

        return what_if_year(fleet, draft, progress=progress)

    def chance(
        self, columns: "ChanceColumns | None", draft: LimitSet, *, today: date
    ) -> "tuple[ChanceColumns | None, str]":
        """What a draft's intervals would do to the chance to catch a fault, in words."""
        from fluiddesk.services.catch_chances.telling import draft_told

        return draft_told(self.place, columns, draft.intervals, today=today)

    def spread(self, fleet: "WhatIfFleet", limit: Limit) -> Spread:
        """How the fleet's figures lie for one limit."""
        from fluiddesk.services.limit_rules.spread import spread

        return spread(fleet, limit)

    def derive(
        self,
        fleet: "WhatIfFleet",
        *,
        compartment_kind: str,
        model: str,
        fluid_class: str,
        progress: Telling,
    ) -> Derived:
        """What the fleet's own history says of a group's limits."""
        from fluiddesk.services.limit_rules.derive import derive

        return derive(
            fleet,
            compartment_kind=compartment_kind,
            model=model,
            fluid_class=fluid_class,
            progress=progress,
        )

    def groups_ready(self, fleet: "WhatIfFleet") -> "tuple[GroupReadiness, ...]":
        """The groups that limits can be derived for, and what each lacks."""
        from fluiddesk.services.limit_rules.derive_readiness import groups_ready

        return groups_ready(fleet)

    def derive_groups(
        self, fleet: "WhatIfFleet", scopes: Sequence[Scope], *, progress: Telling
    ) -> Derived:
        """What the fleet's own history says of the limits of several groups."""
        from fluiddesk.services.limit_rules.derive import derive_groups

        return derive_groups(fleet, scopes, progress=progress)

    def export(self, number: int, path: Path) -> None:
        """Write a set as a file."""
        from fluiddesk.services.limit_rules.limit_file import export_set

        text = export_set(self.place, number)
        try:
            path.write_text(text, encoding="utf-8")
        except OSError as wrong:
            raise CannotWriteError(
                f"{path} cannot be written ({wrong.strerror}). Choose a folder you may write to."
            ) from wrong

    def import_file(self, path: Path, *, today: date, moment: datetime) -> Imported:
        """Read a file as a new draft."""
        from fluiddesk.services.limit_rules.limit_file import import_set

        try:
            text = path.read_text(encoding="utf-8")
        except OSError as wrong:
            raise NotFoundError(f"{path} cannot be read ({wrong.strerror}).") from wrong
        except UnicodeDecodeError as wrong:
            raise OperatorError(
                f"{path} is no text in UTF-8. Choose a limit file, as Export writes it."
            ) from wrong
        return import_set(self.place, text, file=path.name, today=today, moment=moment)

    def boxes(self, *, today: date) -> tuple[KnownBox, ...]:
        """Every box in use, for choosing one."""
        from fluiddesk.services.register.read import register_facts

        facts = register_facts(self.place, today=today)
        machines = {(one.site, one.id): one for one in facts.machines}
        found = [
            KnownBox(
                compartment=box.id,
                machine=machines[box.site, box.machine].code,
                name=self.place.catalogue.box_name(box.kind, box.position),
                kind=box.kind,
                machine_kind=machines[box.site, box.machine].kind,
                model=machines[box.site, box.machine].model,
            )
            for box in facts.compartments
            if (box.site, box.machine) in machines
        ]
        return tuple(sorted(found, key=lambda one: one.machine))
