"""A module is about one notion, a function fits a glance."""

import ast
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
LONGEST_MODULE = 400
LONGEST_FUNCTION = 50


def modules() -> list[Path]:
    """Give every module of the package."""
    found = sorted((CHECKOUT / "fluiddesk").rglob("*.py"))
    assert len(found) > 20
    return found


def lines_of(function: ast.FunctionDef) -> int:
    """Count a function's lines; what its docstring explains makes it no longer."""
    first = function.body[0]
    told = 0
    if ast.get_docstring(function) is not None:
        told = (first.end_lineno or first.lineno) - first.lineno + 1
    return (function.end_lineno or function.lineno) - function.lineno + 1 - told


def test_that_no_module_is_longer_than_400_lines() -> None:
    lengths = {
        str(path.relative_to(CHECKOUT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in modules()
    }
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_MODULE} == {}


def test_that_no_function_is_longer_than_50_lines() -> None:
    too_long = {}
    for path in modules():
        if "migrations" in path.parts:
            continue  # a migration is a list of statements and is read once
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                lines = lines_of(node)
                if lines > LONGEST_FUNCTION:
                    too_long[f"{path.relative_to(CHECKOUT)}:{node.name}"] = lines
    assert too_long == {}
