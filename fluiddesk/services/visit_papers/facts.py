"""Visit sheets, kit and labels as plain values, ready to be drawn."""

from dataclasses import dataclass
from datetime import date

from fluiddesk.domain.samples import DrawMethod, SampleReason


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How a sample is drawn: a title and its steps."""

    title: str
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A caution and where it comes from."""

    topic: str
    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One bottle on the sheet. ``port``: kind, place and marking; ``flush`` and ``tube`` in words.

    ``is_special``: the bottle answers a doubt or a fault and is marked with a bar.
    ``before_change``: the planned fluid change that it is drawn before, in words, "" for none.
    """

    place: int
    compartment: str
    fluid: str
    family: str
    port: str
    method: DrawMethod
    flush_ml: float
    flush: str
    tube_mm: float | None
    tube: str
    hazards: str
    bottle_code: str
    reason: SampleReason
    is_special: bool
    before_change: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One machine's sampling visit, in working order.

    ``no_way``: boxes whose only known point is the drain, which is never planned.
    """

    machine: str
    machine_kind: str
    site: str
    area: str
    planned_on: date
    crew: str
    minutes: float
    rows: tuple[SheetRow, ...]
    before: tuple[str, ...]
    ways: tuple[Way, ...]
    after: tuple[str, ...]
    cautions: tuple[Caution, ...]
    no_way: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KitLine:
    """One thing to take along: what, and how much of it in words."""

    what: str
    how_much: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What a round needs. ``waste_ml``: by fluid family, what the waste bottles must hold."""

    bottles: int
    spares: int
    tubes: int
    tube_m: float
    waste_ml: dict[str, float]
    lines: tuple[KitLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One bottle's label. All but the code and site are empty on a blank label."""

    code: str
    site: str = ""
    machine: str = ""
    compartment: str = ""
    fluid: str = ""
    port: str = ""
    reason: SampleReason | None = None
    is_special: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelStock:
    """A sheet or roll of labels; lengths in millimetres.

    ``page`` and ``label``: width and height; ``first``: where the first label starts; ``pitch``:
    from one label's start to the next.
    """

    code: str
    name: str
    page: tuple[float, float]
    label: tuple[float, float]
    first: tuple[float, float]
    pitch: tuple[float, float]
    columns: int
    rows: int
