"""``fluiddesk reckon WHAT``: the trade's calculations, without a database."""

import argparse
from typing import TYPE_CHECKING, Any

from fluiddesk.cli.output import Exit, print_json
from fluiddesk.domain.errors import UsageError

if TYPE_CHECKING:
    from argparse import _SubParsersAction

    from fluiddesk.services.reckoner.facts import Answer, Field, Reckoning

NAMES = ("code", "vi", "viscosity", "blend", "grade", "freeze", "rate", "hours")
"""The reckonings; they stand here so that the command line starts without the calculations."""


def add_commands(commands: "_SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command; what each reckoning takes is added when one is asked for."""
    reckon = commands.add_parser(
        "reckon",
        help="the trade's calculations, without a database",
        description="Answers with its method, its source and what to mind. "
        "`fluiddesk reckon WHAT --help` tells what one takes.",
    )
    reckon.add_argument("what", choices=NAMES)
    reckon.add_argument("figures", nargs=argparse.REMAINDER, help="figures, each with its unit")
    reckon.set_defaults(run=_reckon)


def _reckon(arguments: argparse.Namespace) -> int:
    from fluiddesk.services.reckoner.reckonings import reckoning_named

    one = reckoning_named(arguments.what)
    try:
        given = _parser(one).parse_args(arguments.figures)
    except SystemExit as told:
        return Exit.USAGE if told.code else Exit.OK
    typed = _typed(one, given)
    answer = one.work(typed)
    if given.format == "json":
        print_json(_as_json(one, typed, answer))
    else:
        print(answer.as_text())
    return Exit.OK


def _parser(one: "Reckoning") -> argparse.ArgumentParser:
    """What one reckoning takes."""
    parser = argparse.ArgumentParser(
        prog=f"fluiddesk reckon {one.name}",
        description=f"{one.about} A figure may carry another unit of its kind, "
        f'such as "104 F"; "-" gives none.',
        epilog=_example(one),
        allow_abbrev=False,
    )
    parser.add_argument(
        "in_order", nargs="*", metavar="FIGURE", help=f"in order: {', '.join(one.in_order)}"
    )
    for field in one.fields:
        parser.add_argument(_option(field), metavar="FIGURE", help=_help(field))
    parser.add_argument("--format", choices=("text", "json"), default="text", help="of the answer")
    return parser


def _option(field: "Field") -> str:
    return f"--{field.name.replace('_', '-')}"


def _help(field: "Field") -> str:
    words = field.label
    if field.choices:
        words += f": {' or '.join(field.choices)}"
    if field.unit:
        words += f", in {field.unit}"
    if field.default:
        words += f"; {field.default} where not given"
    return words.replace("%", "%%")


def _example(one: "Reckoning") -> str:
    parts = [
        f'{_option(field)} "{field.example}"' if " " in field.example else
        f"{_option(field)} {field.example}"
        for field in one.fields
        if field.example
    ]  # fmt: skip
    return f"Example: fluiddesk reckon {one.name} {' '.join(parts)}".replace("%", "%%")


def _typed(one: "Reckoning", given: argparse.Namespace) -> dict[str, str]:
    """What was given, by the name of the field.

    Raises:
        UsageError: for more figures than there are places, or one given twice.
    """
    named = {field.name: getattr(given, field.name) for field in one.fields}
    typed = {name: text for name, text in named.items() if text is not None}
    if len(given.in_order) > len(one.in_order):
        surplus = given.in_order[len(one.in_order)]
        raise UsageError(
            f'"{surplus}" has no place: {one.name} takes {", ".join(one.in_order)} in this order. '
            "Name the others, as --help lists them, and put a text with blanks in quotation marks."
        )
    for name, text in zip(one.in_order, given.in_order, strict=False):
        if name in typed:
            raise UsageError(
                f'{name} is given twice, as "{text}" and as "{typed[name]}". Leave one out, '
                'or write "-" in its place.'
            )
        typed[name] = text
    return typed


def _as_json(one: "Reckoning", typed: dict[str, str], answer: "Answer") -> dict[str, Any]:
    first = answer.values[0]
    return {
        "reckoning": one.name,
        "given": typed,
        "answer": answer.headline,
        "value": first.number,
        "unit": first.unit,
        "sentence": answer.sentence,
        "values": [
            {
                "name": value.name,
                "label": value.label,
                "value": value.number,
                "text": value.text,
                "unit": value.unit,
            }
            for value in answer.values
        ],
        "steps": list(answer.steps),
        "method": answer.method,
        "source": answer.source,
        "status": answer.status.value,
        "cautions": list(answer.cautions),
    }
