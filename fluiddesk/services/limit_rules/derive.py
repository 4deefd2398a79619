"""Limits from the fleet's own history, beside the present ones; a person takes them row by row."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from time import perf_counter

import numpy as np

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.errors import CancelledError, OperatorError
from fluiddesk.domain.limits.limit_set import Box, Limit, LimitKind, Scope, limits_in_force
from fluiddesk.services.limit_rules.derive_bounds import Bounds, derived_bounds
from fluiddesk.services.limit_rules.derive_facts import SPAN
from fluiddesk.services.limit_rules.derive_groups import (
    Chosen,
    Group,
    Results,
    chosen_rows,
    fault_rows,
    groups_of,
    machine_numbers,
    results_of,
)
from fluiddesk.services.limit_rules.derive_notes import outlier_note, shape_note
from fluiddesk.services.limit_rules.facts import (
    Derived,
    DerivedRow,
)
from fluiddesk.services.limit_rules.what_if_fleet import YEAR, WhatIfFleet
from fluiddesk.services.reassess.judging import Progress

Direction = str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What every row of one derivation shares."""

    fleet: WhatIfFleet
    chosen: Chosen
    faults: Chosen
    since: date
    rounds: int
    seed: int
    held: dict[Scope, tuple["_Held", ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _OfRow:
    """What one derived row is about."""

    group: Group
    analyte: Analyte
    direction: Direction


def derive(
    fleet: WhatIfFleet,
    *,
    compartment_kind: str = "",
    model: str = "",
    fluid_class: str = "",
    analytes: Collection[str] = (),
    rounds: int = 200,
    seed: int = 1,
    progress: Progress | None = None,
) -> Derived:
    """Percentiles of the fleet's own results for each group of like boxes and each analyte.

    Watch at 98 %, Act at 99.5 %, Urgent at 99.9 % of two years' believed samples without a known
    fault, each with the least number of results and machines it needs, drawn towards the parent.

    Args:
        fleet: the fleet in memory.
        compartment_kind: only this kind of box.
        model: only groups of this model.
        fluid_class: only this class of fluid.
        analytes: only these, by code; all by default.
        rounds: draws of the bootstrap; 0 leaves intervals and notes out: a quick look at all.
        seed: where the draws begin; the same seed gives the same intervals.
        progress: told the groups done so far.

    Raises:
        OperatorError: for an analyte that is not known.
        CancelledError: when ``progress`` says to stop.
    """
    groups = groups_of(
        fleet, compartment_kind=compartment_kind, model=model, fluid_class=fluid_class
    )
    asked, wanted = _asked(fleet, rounds, seed), _wanted(fleet, analytes)
    return _derived(asked, groups, wanted, progress)


def derive_groups(
    fleet: WhatIfFleet,
    scopes: Collection[Scope],
    *,
    rounds: int = 200,
    seed: int = 1,
    progress: Progress | None = None,
) -> Derived:
    """The same for groups named by their scopes, as ``groups_ready`` lists them.

    Args:
        fleet: the fleet in memory.
        scopes: the groups; others of their kind are not worked out.
        rounds: draws of the bootstrap.
        seed: where the draws begin; a group comes out the same whatever else is asked for.
        progress: told the groups done so far.

    Raises:
        OperatorError: when there is no such group.
        CancelledError: when ``progress`` says to stop.
    """
    groups = [one for one in groups_of(fleet) if one.scope in scopes]
    if not groups:
        raise OperatorError("No group of like boxes is chosen. Choose one of the list.")
    return _derived(_asked(fleet, rounds, seed), groups, _wanted(fleet, ()), progress)


def _derived(
    asked: _Asked,
    groups: Sequence[Group],
    wanted: Mapping[int, Analyte],
    progress: Progress | None,
) -> Derived:
    begun = perf_counter()
    rows = _rows(asked, groups, wanted, progress)
    return Derived(
        rows=tuple(rows),
        since=asked.since,
        until=asked.fleet.today,
        seconds=perf_counter() - begun,
        excluded=asked.chosen.excluded,
    )


def _asked(fleet: WhatIfFleet, rounds: int, seed: int) -> _Asked:
    since = fleet.today - SPAN
    return _Asked(
        fleet=fleet,
        chosen=chosen_rows(fleet, since=since.toordinal()),
        faults=fault_rows(fleet),
        since=since,
        rounds=rounds,
        seed=seed,
    )


def _wanted(fleet: WhatIfFleet, codes: Collection[str]) -> dict[int, Analyte]:
    known = fleet.catalogue.analytes
    unknown = [code for code in codes if code not in known]
    if unknown:
        raise OperatorError(
            f'Analyte "{unknown[0]}" is not in the catalogue. '
            "Choose one of its codes, such as iron."
        )
    chosen = [known[code] for code in codes] if codes else list(known.values())
    return {one.number: one for one in chosen if not one.is_presence_test}


def _rows(
    asked: _Asked,
    groups: Sequence[Group],
    wanted: Mapping[int, Analyte],
    progress: Progress | None,
) -> list[DerivedRow]:
    fleet = asked.fleet
    machines = machine_numbers(fleet)
    parents: dict[tuple[Scope, int, str], Bounds] = {}
    rows: list[DerivedRow] = []
    for done, group in enumerate(groups):
        if progress is not None and not progress(done, len(groups)):
            raise CancelledError("Stopped; nothing has changed.")
        if group.parent is not None and not any(key[0] == group.parent for key in parents):
            parents.update(_of_parent(asked, group, wanted))
        at_fault = dict(results_of(fleet, asked.faults, group, machines=machines))
        for number, results in results_of(fleet, asked.chosen, group, machines=machines):
            if number not in wanted:
                continue
            about = at_fault.get(number)
            for direction in _directions(wanted[number]):
                parent = parents.get((group.parent, number, direction)) if group.parent else None
                bounds = _bounds(asked, results, wanted[number], direction, parent)
                if group.parent is None:
                    parents[group.scope, number, direction] = bounds
                of_row = _OfRow(group=group, analyte=wanted[number], direction=direction)
                rows.append(_row(asked, of_row, results, bounds, about))
    order = {one.number: one.order for one in wanted.values()}
    places = {group.scope: place for place, group in enumerate(groups)}
    numbers = {one.code: one.number for one in wanted.values()}
    return sorted(rows, key=lambda row: (places[row.scope], order[numbers[row.analyte]]))


def _of_parent(
    asked: _Asked, group: Group, wanted: Mapping[int, Analyte]
) -> dict[tuple[Scope, int, str], Bounds]:
    """The bounds of the parent of a group that was asked for alone."""
    [wide] = groups_of(
        asked.fleet,
        compartment_kind=group.scope.compartment_kind,
        fluid_class=asked.fleet.columns.boxes[int(group.boxes[0])].fluid_class,
    )[:1]
    machines = machine_numbers(asked.fleet)
    quick = replace(asked, rounds=0)
    return {
        (wide.scope, number, direction): _bounds(quick, results, wanted[number], direction, None)
        for number, results in results_of(asked.fleet, asked.chosen, wide, machines=machines)
        if number in wanted
        for direction in _directions(wanted[number])
    }


def _directions(analyte: Analyte) -> tuple[Direction, ...]:
    return ("up", "down") if analyte.harmful == "both" else (analyte.harmful,)


def _bounds(
    asked: _Asked,
    results: Results,
    analyte: Analyte,
    direction: Direction,
    parent: Bounds | None,
) -> Bounds:
    # Seeded by what the row is about, so that it comes out the same whatever else is asked for.
    generator = np.random.default_rng([asked.seed, analyte.number, int(direction == "up")])
    return derived_bounds(
        results,
        analyte=analyte,
        falling=direction == "down",
        parent=parent,
        rounds=asked.rounds,
        generator=generator,
    )


def _row(
    asked: _Asked, of_row: _OfRow, results: Results, bounds: Bounds, about: Results | None
) -> DerivedRow:
    group, analyte, direction = of_row.group, of_row.analyte, of_row.direction
    present, starter = _present(asked, group.scope, analyte, direction)
    limit = _limit(asked, of_row, results, bounds)
    flags = [_flags(asked.fleet, results, one) for one in (present, limit)]
    faulty = [_flags(asked.fleet, about, one) for one in (present, limit)]
    watch, act, urgent = bounds.bands
    return DerivedRow(
        scope=group.scope,
        analyte=analyte.code,
        analyte_name=analyte.name,
        unit=analyte.unit,
        direction=direction,
        samples=len(results.values),
        machines=bounds.machines,
        below=int(results.below.sum()),
        since=asked.since,
        until=asked.fleet.today,
        method=bounds.method,
        watch=watch,
        act=act,
        urgent=urgent,
        own_share=bounds.own_share,
        parent_scope=group.parent.text if group.parent else "",
        present=present,
        present_flags=flags[0] + faulty[0],
        derived_flags=flags[1] + faulty[1],
        present_flags_with_finding=faulty[0],
        derived_flags_with_finding=faulty[1],
        shape_note=shape_note(results, seed=asked.seed) if asked.rounds else "",
        outlier_note=outlier_note(results, analyte) if asked.rounds else "",
        excluded_note=_excluded_note(asked.chosen),
        limit=limit,
        starter=starter,
    )


_Held = dict[tuple[str, LimitKind, str], Limit]


def _present(
    asked: _Asked, scope: Scope, analyte: Analyte, direction: str
) -> tuple[Limit | None, Limit | None]:
    """The limits for such boxes today and of the starter set: a frozen percentile, else a level."""
    if scope not in asked.held:
        fleet = asked.fleet
        sets = (fleet.held.limits, fleet.catalogue.starter_limits)
        asked.held[scope] = tuple(_held_for(limits, scope, fleet.today) for limits in sets)
    keys = [(analyte.code, kind, direction) for kind in (LimitKind.PERCENTILE, LimitKind.LEVEL)]
    present, starter = (
        next((held[key] for key in keys if key in held), None) for held in asked.held[scope]
    )
    return present, starter


def _held_for(limits: Sequence[Limit], scope: Scope, day: date) -> _Held:
    box = Box(
        machine_kind="",
        model=scope.model,
        compartment_kind=scope.compartment_kind,
        compartment="",
        fluid_class=scope.fluid_class,
    )
    return {limit.key: limit for limit in limits_in_force(limits, box, day)}


def _flags(fleet: WhatIfFleet, results: Results | None, limit: Limit | None) -> int:
    """Samples of the last year past the first bound of a limit."""
    first = next((bound for bound in limit.bounds() if bound is not None), None) if limit else None
    if limit is None or first is None or results is None:
        return 0
    recent = results.day >= (fleet.today - YEAR).toordinal()
    turn = -1.0 if limit.direction == "down" else 1.0
    # A "less than" result may lie anywhere lower: it is past no limit upward.
    values = turn * np.where(results.below & (turn > 0), -np.inf, results.values)
    past = values > turn * first
    if limit.boundary == "at":
        past |= values == turn * first
    return int((recent & past).sum())


def _excluded_note(chosen: Chosen) -> str:
    told = [f"{count} {reason}" for reason, count in chosen.excluded.items() if count]
    return f"Left out of the fleet's samples: {', '.join(told)}." if told else ""


def _limit(asked: _Asked, of_row: _OfRow, results: Results, bounds: Bounds) -> Limit | None:
    """The row as it would stand in a draft; ``None`` where there is too little for Watch."""
    group, analyte, direction = of_row.group, of_row.analyte, of_row.direction
    watch, act, urgent = (one.value for one in bounds.bands)
    if watch is None:
        return None
    percents = " / ".join(f"{one.percent:g}" for one in bounds.bands if one.value is not None)
    source = (
        f"own fleet: {percents} % of {len(results.values)} samples of {bounds.machines} machines, "
        f"{asked.since} to {asked.fleet.today}"
    )
    return Limit(
        scope=group.scope,
        analyte=analyte.code,
        kind=LimitKind.PERCENTILE,
        direction="down" if direction == "down" else "up",
        watch=watch,
        act=act,
        urgent=urgent,
        source=source,
        set_by="",
        boundary="beyond",
        derivation=json.dumps(
            {
                "samples": len(results.values),
                "machines": bounds.machines,
                "below": int(results.below.sum()),
                "since": asked.since.isoformat(),
                "until": asked.fleet.today.isoformat(),
                "method": bounds.method,
                "percent": [one.percent for one in bounds.bands],
                "own": [one.own for one in bounds.bands],
                "low": [one.low for one in bounds.bands],
                "high": [one.high for one in bounds.bands],
                "parent": group.parent.text if group.parent else "",
                "parent_values": [one.parent for one in bounds.bands],
                "own_share": round(bounds.own_share, 4),
                "rounds": asked.rounds,
                "seed": asked.seed,
                "excluded": asked.chosen.excluded,
            },
            sort_keys=True,
        ),
    )
