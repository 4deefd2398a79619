"""Bounds within repeatability stand where a reason is written, for these bounds alone."""

from dataclasses import replace

from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.limit_rules.check import check
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit
from fluiddesk.services.limit_rules.versions import draft_from, edit_draft
from tests.fleets import LAST_DAY, NOW, Fleet

CLOSE = [
    (kind, analyte)
    for analyte in ("tin", "potassium")
    for kind in ("hydraulic", "steering_hydraulic", "screw_compressor")
]


def row_of(limits, kind: str, analyte: str) -> int:
    return next(
        place
        for place, row in enumerate(limits)
        if (row.scope.compartment_kind, row.analyte) == (kind, analyte)
    )


def test_that_the_shipped_set_passes_its_own_check_with_each_close_row_explained(
    fleet: Fleet,
) -> None:
    found = check(fleet.place, 1, today=LAST_DAY)
    assert found.open == ()
    rows = load_catalogue().starter_limits
    accepted = [rows[one.place] for one in found.problems]
    assert sorted((row.scope.compartment_kind, row.analyte) for row in accepted) == sorted(CLOSE)
    assert all("ASTM D5185" in one.accepted for one in found.problems)


def test_that_a_reason_does_not_go_over_to_other_bounds(fleet: Fleet) -> None:
    draft = draft_from(fleet.place, 1, name="Tin", note="", moment=NOW)
    place = row_of(draft.limit_set.limits, "hydraulic", "tin")
    row = draft.limit_set.limits[place]

    def changed_to(version: int, **fields) -> int:
        edits = [RowEdit(kind=EditKind.CHANGE, place=place, limit=replace(row, **fields))]
        done = edit_draft(fleet.place, 2, edits, version=version, moment=NOW)
        return done.draft.version

    version = changed_to(draft.version, watch=5.0)
    assert not check(fleet.place, 2, today=LAST_DAY).may_take_force
    changed_to(version, watch=5.0, note="Accepted: the pump maker's manual says 5 and 6.")
    found = check(fleet.place, 2, today=LAST_DAY)
    assert found.may_take_force
    own = next(one for one in found.problems if one.place == place)
    assert own.accepted == "the pump maker's manual says 5 and 6."
