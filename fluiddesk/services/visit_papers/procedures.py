"""Reads the steps, cautions, kit and label stocks; a site's own files come before the bundled."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fluiddesk.assets import resource
from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.services.visit_papers.facts import Caution, LabelStock, Way

_WAYS = ("valve_probe", "vacuum_tube", "both")


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """The steps at the machine, the ways to draw, cautions, warm-up by group, and the kit."""

    before: tuple[str, ...]
    after: tuple[str, ...]
    ways: Mapping[str, Way]
    warm_up: Mapping[str, str]
    cautions: tuple[Caution, ...]
    kit: Mapping[str, Any]


def load_procedure(own_folder: Path | None = None) -> Procedure:
    """The procedure of visits: the site's own file where there is one, whole, else the bundled.

    Raises:
        OperatorError: the file cannot be read or lacks a part; the text names file and part.
    """
    own = own_folder / "procedures" / "visit.toml" if own_folder else None
    path = own if own is not None and own.is_file() else resource("procedures", "visit.toml")
    told = _read(path)
    try:
        return _procedure(told)
    except (KeyError, TypeError, AttributeError) as fault:
        raise OperatorError(
            f"{path} lacks {fault}. Copy the bundled visit.toml and change its steps."
        ) from fault


def _procedure(told: Mapping[str, Any]) -> Procedure:
    # A drain stream is no way to draw a sample: only these ways are read.
    return Procedure(
        before=tuple(str(one["text"]) for one in told["before"]),
        after=tuple(str(one["text"]) for one in told["after"]),
        ways={
            name: Way(
                title=str(told["way"][name]["title"]), steps=tuple(told["way"][name]["steps"])
            )
            for name in _WAYS
        },
        warm_up={group: str(one["text"]) for group, one in told["warm_up"].items()},
        cautions=tuple(
            Caution(topic=one["topic"], text=one["text"], source=one["source"])
            for one in told["caution"]
        ),
        kit=told["kit"],
    )


def _read(path: Path) -> Mapping[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as fault:
        raise OperatorError(f"{path} cannot be read: {fault}. Mend or remove the file.") from fault


def label_stocks(own_folder: Path | None = None) -> dict[str, LabelStock]:
    """Every label stock by its code, the site's own ones too.

    Raises:
        OperatorError: a file cannot be read, lacks a part, or its labels do not fit on the page.
    """
    folders = [resource("label_stock")]
    folders += [own_folder / "label_stock"] if own_folder else []
    found: dict[str, LabelStock] = {}
    for folder in folders:
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else []:
            found[path.stem] = _stock(path)
    return found


def label_stock(code: str, own_folder: Path | None = None) -> LabelStock:
    """One label stock.

    Raises:
        NotFoundError: naming those there are.
    """
    stocks = label_stocks(own_folder)
    if code not in stocks:
        raise NotFoundError(f'There is no label stock "{code}". Choose: {", ".join(stocks)}.')
    return stocks[code]


def _stock(path: Path) -> LabelStock:
    told = _read(path)
    try:
        stock = LabelStock(
            code=path.stem,
            name=str(told["name"]),
            page=_pair(told["page"]),
            label=_pair(told["label"]),
            first=_pair(told["first"]),
            pitch=_pair(told["pitch"]),
            columns=int(told["columns"]),
            rows=int(told["rows"]),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise OperatorError(f"{path} lacks or misspells {fault}. See its README.") from fault
    for side, count, word in ((0, stock.columns, "wide"), (1, stock.rows, "high")):
        end = stock.first[side] + (count - 1) * stock.pitch[side] + stock.label[side]
        if count < 1 or min(stock.label) <= 0 or end > stock.page[side] + 0.01:
            raise OperatorError(
                f"{path}: {count} labels end at {end:g} mm, but the page is {stock.page[side]:g} "
                f"mm {word}. Correct first, pitch, label or the count."
            )
    return stock


def _pair(told: Any) -> tuple[float, float]:
    across, down = told
    return float(across), float(down)
