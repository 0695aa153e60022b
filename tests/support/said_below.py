"""What the layers below the report say of their findings, as the source has it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import cagewise

SOURCE = Path(cagewise.__file__).parent
LAYERS = (
    "conditioning",
    "measurement",
    "indicators",
    "evidence",
    "decision",
    "history",
    "machine",
    "pipeline",
    "pictures",
)
NOT_IN_PAPERS = (
    "decision/expect.py",
    "decision/limits.py",
    "evidence/fusion/parameters.py",
    "history/differences.py",
    "history/outcomes.py",
    "machine/cage/",
    "machine/kernels.py",
    "machine/lines.py",
    "machine/motor_build.py",
    "machine/motor_faults.py",
    "machine/motor_file.py",
    "machine/motor_schema.py",
    "machine/motor_toml.py",
    "measurement/recording.py",
    "measurement/repair_return.py",
    "measurement/role_text.py",
    "measurement/role_words.py",
    "measurement/roles.py",
    "pictures/table.py",
)
"""Errors of input, files that are written, names in tables of numbers."""


def templates() -> Iterator[tuple[str, str]]:
    """Yield file and text of everything that reads like words; places are ``{}``."""
    for layer in LAYERS:
        for path in sorted((SOURCE / layer).rglob("*.py")):
            file = path.relative_to(SOURCE).as_posix()
            if not file.startswith(NOT_IN_PAPERS):
                yield from ((file, text) for text in _texts(path) if _reads_like_words(text))


def without_names(template: str) -> str:
    """Return a template whose places have no names."""
    return re.sub(r"\{\w+(:\w+)?\}", "{}", template)


def _texts(path: Path) -> Iterator[str]:
    """Yield constants and f-strings, but for docstrings and what is raised."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = set(_left_out(tree))
    for node in ast.walk(tree):
        if node in left_out:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield without_names(node.value)
        elif isinstance(node, ast.JoinedStr):
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
            )


def _left_out(tree: ast.Module) -> Iterator[ast.AST]:
    """Yield nodes that say nothing in a paper, and the parts of f-strings."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            yield node.value
        elif isinstance(node, ast.Raise):
            yield from ast.walk(node)
        elif isinstance(node, ast.JoinedStr):
            yield from node.values
            for part in node.values:
                if isinstance(part, ast.FormattedValue) and part.format_spec is not None:
                    yield from ast.walk(part.format_spec)


def _reads_like_words(text: str) -> bool:
    return " " in text.strip() and re.search("[a-z]{3}", text.replace("{}", "")) is not None
