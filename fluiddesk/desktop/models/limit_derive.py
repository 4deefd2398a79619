"""Lists for deriving limits: the groups that can be asked for, and what came of them."""

from collections.abc import Sequence

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import SteadyListModel
from fluiddesk.desktop.viewstate.limit_rules import unit_text
from fluiddesk.desktop.viewstate.limit_versions import rule_text
from fluiddesk.services.limit_rules.derive_readiness import GroupReadiness
from fluiddesk.services.limit_rules.facts import DerivedBound, DerivedRow


class GroupModel(SteadyListModel[GroupReadiness]):
    """Groups of like boxes, what is behind each, and what some lack."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Group")),
            FactColumn(title=self.tr("Boxes"), is_number=True),
            FactColumn(title=self.tr("Machines"), is_number=True),
            FactColumn(
                title=self.tr("Samples"),
                is_number=True,
                tip=self.tr("Believed samples of two years without a known fault"),
            ),
            FactColumn(title=self.tr("Enough for Watch")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (
            one.scope.text,
            str(one.boxes),
            str(one.machines),
            str(one.samples),
            self.tr("yes") if one.is_ready else self.tr("no: {0}").format(one.why),
        )[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return not self.rows[row].is_ready


class DerivedModel(SteadyListModel[DerivedRow]):
    """What the fleet's own history says, beside the limits it has now."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Analyte")),
            FactColumn(title=self.tr("Worse")),
            FactColumn(title=self.tr("Samples"), is_number=True),
            FactColumn(title=self.tr("Machines"), is_number=True),
            FactColumn(title=self.tr("Now"), tip=self.tr("Watch / Act / Urgent in the set shown")),
            FactColumn(title=self.tr("Own history"), tip=self.tr("Watch / Act / Urgent proposed")),
            FactColumn(
                title=self.tr("Watch within"),
                tip=self.tr("Where the own Watch percentile lies, 90 % (bootstrap)"),
            ),
            FactColumn(title=self.tr("Starter"), tip=self.tr("Watch / Act / Urgent to begin with")),
            FactColumn(title=self.tr("Unit")),
            FactColumn(
                title=self.tr("Flags"),
                is_number=True,
                tip=self.tr("Samples of the last year at Watch or worse, now and then"),
            ),
            FactColumn(title=self.tr("For")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        bounds = (one.watch, one.act, one.urgent)
        return (
            one.analyte_name,
            one.direction,
            str(one.samples),
            str(one.machines),
            "none" if one.present is None else rule_text(one.present),
            " / ".join(map(_bound_words, bounds)) if one.may_be_taken else _why(bounds),
            _band(one.watch),
            "none" if one.starter is None else rule_text(one.starter),
            unit_text(one.unit),
            f"{one.present_flags} \u2192 {one.derived_flags}" if one.may_be_taken else "",
            one.scope.text,
        )[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return not self.rows[row].may_be_taken


def _bound_words(bound: DerivedBound) -> str:
    return "-" if bound.value is None else f"{bound.value:g}"


def _band(bound: DerivedBound) -> str:
    if bound.low is None or bound.high is None:
        return ""
    return f"{bound.low:.3g} to {bound.high:.3g}"


def _why(bounds: Sequence[DerivedBound]) -> str:
    return next((one.why for one in bounds if one.why), "not enough")
