"""Fluid changes nobody wrote down: how many are asked about, and how many questions are in vain.

Measured, without a target: a change shows where the metals fall. Gear boxes are sampled in the
middle of long fills and show it; an engine is sampled just before each change, so that one change
more or less leaves nearly the same level, and no question can be asked of that.
"""

from datetime import date

import numpy as np
import pytest

from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.trust.expectation import Expectation, traits
from fluiddesk.domain.trust.unlogged_change import LEAST_ODDS, Gap, change_odds
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.simulated_fleet.setting import setting_of
from fluiddesk.simulation.plan import ErrorRates, SimulationPlan
from fluiddesk.simulation.play import simulate
from tests.claims.keying_trial import Reports, reports
from tests.claims.reports import FULL, write_report

SEED = 9
MACHINES = 120 if FULL else 25
GEARS = ("differential", "final_drive", "swing_drive")
SPEAK = (AnalyteFamily.WEAR, AnalyteFamily.ADDITIVE)


def odds_of(about: Reports) -> np.ndarray:
    """The odds for a change in each gap."""
    chosen = [at for at, one in enumerate(about.known.analytes) if one.family in SPEAK]
    known = traits([about.known.analytes[at] for at in chosen])
    found = np.zeros(len(about.values))
    for row in range(len(found)):
        going_on = Expectation(
            traits=known,
            centre=about.expected.centre[[row]][:, chosen],
            spread=about.expected.spread[[row]][:, chosen],
            reports=about.expected.reports[[row]][:, chosen],
        )
        gap = Gap(
            before=about.before[row, chosen],
            now=about.now[row, chosen],
            fresh=about.fresh[row, chosen],
            residue_share=float(about.residue[row]),
        )
        found[row] = change_odds(gap, going_on)
    return found


@pytest.mark.slow
def test_that_few_questions_are_asked_in_vain_and_gear_boxes_tell_of_their_changes():
    catalogue, first = load_catalogue(), date(2023, 1, 1)
    rates = ErrorRates(keyed_share=0.0, unlogged_change=0.15)
    plan = SimulationPlan(machines=MACHINES, years=3, seed=SEED, first_day=first, rates=rates)
    fleet, truth = simulate(setting_of(catalogue, on=first), plan)
    changed: dict[int, list[int]] = {}
    for kind, box, day in truth.unlogged:
        if kind == "fluid_change":
            changed.setdefault(box, []).append(day)
    counts = {name: [0, 0, 0, 0] for name in ("gears", "others")}
    for about in reports(fleet, catalogue, newest=40):
        asked = (odds_of(about) > LEAST_ODDS) & about.same_fill
        real = np.array(
            [
                any(begin <= day < end for day in changed.get(int(box), []))
                for box, (begin, end) in zip(about.box, about.days, strict=True)
            ]
        )
        lane = counts["gears" if about.family in GEARS else "others"]
        for at, which in enumerate((real & about.same_fill, ~real & about.same_fill)):
            lane[2 * at] += int((asked & which).sum())
            lane[2 * at + 1] += int(which.sum())
    percent = {
        name: {
            "changes_asked_about_percent": round(100.0 * one[0] / max(one[1], 1), 1),
            "changes": one[1],
            "asked_in_vain_percent": round(100.0 * one[2] / max(one[3], 1), 3),
            "reports": one[3],
        }
        for name, one in counts.items()
    }
    write_report("unlogged_change", {"seed": SEED, "machines": MACHINES, **percent})
    assert percent["gears"]["changes_asked_about_percent"] > 35.0
    assert all(one["asked_in_vain_percent"] < 1.0 for one in percent.values())
