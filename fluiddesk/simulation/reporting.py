"""The result sheets that come back: measured, some typed by hand, some revised."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation import keying
from fluiddesk.simulation.book import laboratories_of
from fluiddesk.simulation.laboratory import Bench, Measured, measure
from fluiddesk.simulation.measuring import Bottle
from fluiddesk.simulation.plan import ErrorRates, LaboratoryShift, SimulationPlan
from fluiddesk.simulation.records import LOST, ResultRows, SampleRows
from fluiddesk.simulation.run import FamilyTrace
from fluiddesk.simulation.setting import Setting

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Slip = tuple[int, str, str, float]


@dataclass(frozen=True, kw_only=True)
class Reporting:
    """What the laboratories of a play have in common.

    ``ratio``: share of the particles of 6 um among those of 4 um and of 14 um among 6 um, by box.
    """

    setting: Setting
    plan: SimulationPlan
    samples: SampleRows
    shifts: tuple[LaboratoryShift, ...]
    ratio: FloatArray
    laboratory: np.random.Generator
    keying: np.random.Generator

    def sheets(self, trace: FamilyTrace, places: IntArray) -> tuple[ResultRows, list[Slip]]:
        """All sheets of one family's samples that were ever tested, and the truth about slips.

        Sheets of bottles that are still on their way are included: ``reported_on`` tells.
        """
        tested = np.flatnonzero(self.samples.state[places] != LOST)
        where = places[tested]
        ratio = self.ratio[trace.compartment[tested]]
        bench = Bench(
            laboratory=self.samples.laboratory[where].astype(np.int64),
            reported_on=self.samples.reported_on[where],
            names=laboratories_of(self.plan),
            shifts=self.shifts,
        )
        found = [self.setting.analyte(code) for code in trace.family.tests]
        measured = measure(
            Bottle(trace.family, trace.states[tested], ratio),
            [facts for facts in found if facts is not None],
            bench,
            self.plan.rates.not_enough,
            self.laboratory,
        )
        slips = self._mistype(measured, where)
        return _rows(trace.family.name, measured, where, self.plan.rates, self.keying), slips

    def _mistype(self, measured: Measured, where: IntArray) -> list[Slip]:
        slip = keying.mistype(measured.values, measured.signs, self.plan.rates, self.keying)
        codes = [one.code for one in measured.facts]
        return [
            (int(where[row]), codes[column], keying.KINDS[kind], paper)
            for row, column, kind, paper in zip(
                slip.row.tolist(),
                slip.column.tolist(),
                slip.kind.tolist(),
                slip.on_paper.tolist(),
                strict=True,
            )
        ]


def _rows(
    family: str,
    measured: Measured,
    where: IntArray,
    rates: ErrorRates,
    rng: np.random.Generator,
) -> ResultRows:
    again, earlier, earlier_signs = keying.first_issues(
        measured.values, measured.signs, rates.revised_report, rng
    )
    issue = np.ones(len(where), dtype=np.int64)
    issue[again] = 2
    return ResultRows(
        family=family,
        analytes=tuple(one.code for one in measured.facts),
        numbers=np.array([one.number for one in measured.facts]),
        decimals=np.array([one.decimals for one in measured.facts]),
        sample=np.concatenate([where, where[again]]),
        issue=np.concatenate([issue, np.ones(len(again), dtype=np.int64)]),
        values=np.concatenate([measured.values, earlier]),
        signs=np.concatenate([measured.signs, earlier_signs]),
    )
