"""Two people edited one record: what was written here beside what the other has saved."""

from collections.abc import Mapping
from dataclasses import dataclass

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormDraft, FormField, RecordForm


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """``mine`` holds the texts written here that are not saved; ``told`` shows both versions."""

    mine: Mapping[str, str]
    told: str


def clash(draft: FormDraft, saved: RecordForm) -> Clash:
    """Hold an unsaved form against the record as somebody else saved it meanwhile."""
    before = {one.key: one.value for one in draft.form.fields}
    mine = {key: text for key, text in draft.texts.items() if text.strip() != before[key]}
    lines = []
    for one in saved.fields:
        was, written = before.get(one.key, ""), mine.get(one.key)
        if one.value == was and written is None:
            continue
        yours = "" if written is None else f' you wrote "{_words(one, written)}",'
        lines.append(
            f'{one.label}: was "{_words(one, was)}",{yours} now "{_words(one, one.value)}".'
        )
    return Clash(mine=mine, told="\n".join(lines))


def _words(one: FormField, text: str) -> str:
    return dict(one.choices).get(text, text) if one.kind is FieldKind.CHOICE else text
