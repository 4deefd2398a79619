"""The interval rules of every set that is or was in force; few rows, read with each fleet page."""

from datetime import date
from typing import NamedTuple

from sqlalchemy import select

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import LimitSet, LimitSetState, Scope
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import IntervalRuleRow, LimitSetRow


class SetOnDays(NamedTuple):
    """The days of a set, without its rows."""

    number: int
    state: str
    valid_from: date
    valid_until: date | None


class IntervalQuery:
    """Reads interval rules without the limits beside them."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def sets(self) -> list[LimitSet]:
        """Every set but drafts with its interval rules and without its limits.

        Empty where no set has a rule: then the intervals of the register hold everywhere.
        """
        row = IntervalRuleRow
        execute = self._session.connection.execute
        ordered = select(row.__table__).order_by(row.limit_set_number, row.place)
        rules: dict[int, list[IntervalRule]] = {}
        for found in execute(ordered):
            rules.setdefault(found.limit_set_number, []).append(
                IntervalRule(
                    scope=Scope(
                        machine_kind=found.machine_kind,
                        model=found.model,
                        compartment_kind=found.compartment_kind,
                        compartment=found.compartment,
                    ),
                    interval_hours=found.interval_hours,
                    interval_days=found.interval_days,
                    source=found.source,
                    set_by=found.set_by,
                    window_share=found.window_share,
                    convention=found.convention,
                    note=found.note,
                )
            )
        if not rules:
            return []
        known = select(
            LimitSetRow.number, LimitSetRow.state, LimitSetRow.valid_from, LimitSetRow.valid_until
        ).where(LimitSetRow.state != LimitSetState.DRAFT.value)
        return [
            LimitSet(
                number=one.number,
                name="",
                state=LimitSetState(one.state),
                valid_from=one.valid_from,
                valid_until=one.valid_until,
                author="",
                note="",
                limits=(),
                intervals=tuple(rules.get(one.number, ())),
            )
            for one in map(SetOnDays._make, execute(known))
        ]
