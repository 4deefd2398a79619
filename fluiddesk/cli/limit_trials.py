"""``fluiddesk limits what-if`` and ``derive``: try a draft out, and learn from the fleet."""

import argparse
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.desk import add_database, opened
from fluiddesk.cli.output import Exit, counted, print_json, print_rows, say
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.units import percent_text

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.limit_rules.facts import (
        Budget,
        DerivedBound,
        DerivedRow,
        FindingScore,
        LastYear,
        Latest,
    )
    from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet


def add_parts(parts: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add what tries limits out."""
    trial = parts.add_parser("what-if", help="what a draft would change in the whole fleet")
    trial.add_argument("number", type=int, help="number of the draft")
    trial.set_defaults(run=_what_if)
    derive = parts.add_parser("derive", help="limits from the fleet's own history")
    derive.add_argument(
        "--all", action="store_true", help="every group (as without a kind, model or fluid class)"
    )
    derive.add_argument(
        "--groups",
        action="store_true",
        help="list the groups only: what is behind each, what lacks",
    )
    derive.add_argument("--kind", default="", help="only this compartment kind, by code")
    derive.add_argument("--model", default="", help="only groups of this model")
    derive.add_argument("--fluid-class", default="", help="only this class of fluid")
    derive.add_argument("--analyte", action="append", default=[], help="only this one; repeatable")
    derive.add_argument("--rounds", type=int, default=200, help="draws of the bootstrap")
    derive.add_argument("--seed", type=int, default=1, help="where the draws begin")
    derive.add_argument(
        "--into", type=int, metavar="NUMBER", help="take every row shown into this draft"
    )
    derive.set_defaults(run=_derive)
    for part in (trial, derive):
        add_database(part)


def _what_if(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.versions import read_set
    from fluiddesk.services.limit_rules.what_if import what_if_latest, what_if_year
    from fluiddesk.services.limit_rules.what_if_fleet import open_what_if

    with opened(arguments, is_reading=True) as desk:
        draft = read_set(desk.place, arguments.number).limit_set
        fleet = open_what_if(desk.place, today=desk.clock.today())
    latest, year = what_if_latest(fleet, draft), what_if_year(fleet, draft)
    moves: list[dict[str, Any]] = [
        {
            "site": one.site,
            "machine": one.machine,
            "compartment": one.compartment,
            "sampled_on": one.sampled_on,
            "before": one.before.word,
            "after": one.after.word,
            "why": one.why,
        }
        for one in latest.moves
    ]
    say(f'"{draft.name}" against "{fleet.held.name}". {latest.sentence}')
    _tell_year(year)
    if arguments.format == "json":
        print_json(_answer(latest, year, moves))
    else:
        columns = ("site", "machine", "compartment", "sampled_on", "before", "after", "why")
        print_rows(moves, form=arguments.format, columns=columns)
    return Exit.OK


def _tell_year(year: "LastYear") -> None:
    alarms = [sum(getattr(one, name) for one in year.months) for name in ("before", "after")]
    say(
        f"Since {year.since}: {alarms[0]} of {year.samples} samples at Act or Urgent, "
        f"{alarms[1]} by the draft."
    )
    old, new = year.budget_before.measured, year.budget_after.measured
    if old is not None and new is not None:
        now, then = percent_text(old, 1), percent_text(new, 1)
        say(f"Healthy samples flagged: {now} now, {then} by the draft.")
    found = year.findings_after.caught + year.findings_after.missed
    if found:
        say(
            f"Confirmed faults: {year.findings_before.caught} of {found} caught now, "
            f"{year.findings_after.caught} by the draft."
        )


def _answer(latest: "Latest", year: "LastYear", moves: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "before": {severity.word: count for severity, count in latest.before.items()},
        "after": {severity.word: count for severity, count in latest.after.items()},
        "moves": moves,
        "since": year.since,
        "until": year.until,
        "samples": year.samples,
        "months": [
            {"month": one.month, "samples": one.samples, "before": one.before, "after": one.after}
            for one in year.months
        ],
        "findings_before": _score(year.findings_before),
        "findings_after": _score(year.findings_after),
        "budget_before": _budget(year.budget_before),
        "budget_after": _budget(year.budget_after),
        "seconds": {"latest": round(latest.seconds, 3), "year": round(year.seconds, 3)},
    }


def _score(score: "FindingScore") -> dict[str, int]:
    return {
        "caught": score.caught,
        "missed": score.missed,
        "false_alarms": score.false_alarms,
    }


def _budget(budget: "Budget") -> dict[str, Any]:
    return {
        "healthy": budget.healthy,
        "flagged": budget.flagged,
        "measured": budget.measured,
        "low": budget.low,
        "high": budget.high,
        "computed": budget.computed,
        "per_month": budget.per_month,
    }


def _groups(fleet: "WhatIfFleet", form: str) -> int:
    from fluiddesk.services.limit_rules.derive_readiness import groups_ready

    found = groups_ready(fleet)
    ready = sum(one.is_ready for one in found)
    say(f"{counted(len(found), 'group')} of like boxes, {ready} with enough for a limit.")
    rows = [
        {
            "scope": one.scope.text,
            "kind": one.scope.compartment_kind,
            "model": one.scope.model,
            "fluid_class": one.scope.fluid_class,
            "boxes": one.boxes,
            "samples": one.samples,
            "machines": one.machines,
            "ready": one.is_ready,
            "why": one.why,
        }
        for one in found
    ]
    columns = ("scope", "boxes", "samples", "machines", "ready", "why")
    print_rows(rows, form=form, columns=columns)
    return Exit.OK


def _refuse_contradiction(arguments: argparse.Namespace) -> None:
    if arguments.all and (arguments.kind or arguments.model or arguments.fluid_class):
        raise OperatorError(
            "--all means every group, but a kind, model or fluid class is given as well. "
            "Leave one of them out."
        )


def _derive(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.limit_rules.derive import derive
    from fluiddesk.services.limit_rules.take_derived import take_into_draft
    from fluiddesk.services.limit_rules.versions import read_set
    from fluiddesk.services.limit_rules.what_if_fleet import open_what_if

    _refuse_contradiction(arguments)
    with opened(arguments, is_reading=arguments.into is None) as desk:
        fleet = open_what_if(desk.place, today=desk.clock.today())
        if arguments.groups:
            return _groups(fleet, arguments.format)
        found = derive(
            fleet,
            compartment_kind=arguments.kind,
            model=arguments.model,
            fluid_class=arguments.fluid_class,
            analytes=arguments.analyte,
            rounds=arguments.rounds,
            seed=arguments.seed,
        )
        if arguments.into is not None:
            ready = [row for row in found.rows if row.may_be_taken]
            version = read_set(desk.place, arguments.into).version
            take_into_draft(
                desk.place, arguments.into, ready, version=version, moment=desk.clock.moment()
            )
            say(f"{counted(len(ready), 'row')} taken into draft {arguments.into}.")
    ready_rows = sum(row.may_be_taken for row in found.rows)
    say(
        f"{counted(len(found.rows), 'group')} of results from {found.since} to {found.until}; "
        f"{ready_rows} with enough for a limit. A person decides; nothing takes force by itself."
    )
    rows = [_derived_row(row) for row in found.rows]
    columns = (
        "scope", "analyte", "direction", "samples", "machines", "watch", "act", "urgent",
        "present_watch", "present_act", "present_urgent", "why",
    )  # fmt: skip
    print_rows(rows, form=arguments.format, columns=columns)
    return Exit.OK


def _derived_row(row: "DerivedRow") -> dict[str, Any]:
    present = row.present.bounds() if row.present else (None, None, None)
    return {
        "scope": row.scope.text,
        "analyte": row.analyte,
        "direction": row.direction,
        "unit": row.unit,
        "samples": row.samples,
        "machines": row.machines,
        "below": row.below,
        "method": row.method,
        "watch": row.watch.value,
        "act": row.act.value,
        "urgent": row.urgent.value,
        "present_watch": present[0],
        "present_act": present[1],
        "present_urgent": present[2],
        "starter": list(row.starter.bounds()) if row.starter else None,
        "bounds": [_bound(one) for one in (row.watch, row.act, row.urgent)],
        "own_share": row.own_share,
        "parent": row.parent_scope,
        "flags": {
            "present": row.present_flags,
            "derived": row.derived_flags,
            "present_with_finding": row.present_flags_with_finding,
            "derived_with_finding": row.derived_flags_with_finding,
        },
        "notes": [note for note in (row.shape_note, row.outlier_note, row.excluded_note) if note],
        "why": row.watch.why,
    }


def _bound(bound: "DerivedBound") -> dict[str, Any]:
    return {
        "percent": bound.percent,
        "value": bound.value,
        "own": bound.own,
        "low": bound.low,
        "high": bound.high,
        "parent": bound.parent,
        "why": bound.why,
    }
