"""Mutation testing: plants one small fault at a time in a module and counts those that its tests notice.

    python tests/mutate.py core/rigproof/uncertainty/budget.py tests/core/uncertainty/test_budget.py tests/reference

Works in a temporary copy, one process at a time: the tests pass once here, which loads the libraries, then a fork runs
them for each fault. Prints the survivors and the score. Text of f-strings, docstrings and annotations stay as they are.
"""

from __future__ import annotations

import ast
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
OPTIONS = ["-x", "-q", "--assert=plain", "--hypothesis-seed=0", "-p", "no:cacheprovider", "-p", "no:xdist"]
NO_COPY = shutil.ignore_patterns(".*", "__pycache__", "run-*", "build", "dist")
PAIRS: list[tuple[type[ast.AST], type[ast.AST]]] = [
    *[(ast.Add, ast.Sub), (ast.Mult, ast.Div), (ast.And, ast.Or), (ast.Lt, ast.LtE), (ast.Gt, ast.GtE)],
    *[(ast.Eq, ast.NotEq), (ast.In, ast.NotIn), (ast.Is, ast.IsNot), (ast.Break, ast.Continue)],
]
SWAPPED = {**dict(PAIRS), **{b: a for a, b in PAIRS}, ast.Pow: ast.Mult, ast.FloorDiv: ast.Div, ast.Mod: ast.Mult}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}
ANNOTATIONS = ("annotation", "returns", "type_params")


def faults(node: ast.AST, field: str) -> Iterator[ast.AST]:
    """What a node in this field of its parent may be replaced by."""
    match node:
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int() | float() as value):
            yield ast.Constant(value + 1 if value + 1 != value else 2 * value)
        case ast.Constant(value=str(value)):
            yield ast.Constant(value + "?")
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield operand
        case ast.Name(id=name, ctx=ast.Load()) if name in NAMES:
            yield ast.Name(NAMES[name], ast.Load())
        case ast.Raise() | ast.AugAssign() | ast.Expr(value=ast.Call()):
            yield ast.Pass()
        case ast.Return(value=value) if value is not None:
            yield ast.Return(None)
    if type(node) in SWAPPED:
        yield SWAPPED[type(node)]()
    if field == "test" and isinstance(node, ast.Name | ast.Attribute | ast.Call | ast.BoolOp):
        yield ast.UnaryOp(ast.Not(), node)


def mutants(node: ast.AST) -> Iterator[tuple[int, str, str]]:
    """(line, what it was, what it is) of each fault below `node`, while the tree holds it."""
    for name, held in ast.iter_fields(node):
        if name in ANNOTATIONS or isinstance(node, ast.JoinedStr):
            continue
        children = held if isinstance(held, list) else [held]
        for at, child in enumerate(children):
            docstring = isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)
            if docstring or not isinstance(child, ast.AST):
                continue
            whole = isinstance(child, ast.expr | ast.stmt)  # an operator is shown with what it joins
            for fault in faults(child, name):
                before = ast.unparse(child if whole else node)
                _put(node, name, held, at, fault)
                yield getattr(child if whole else node, "lineno", 0), before, ast.unparse(fault if whole else node)
                _put(node, name, held, at, child)
            yield from mutants(child)


def _put(node: ast.AST, name: str, held: object, at: int, child: ast.AST) -> None:
    if isinstance(held, list):
        held[at] = child
    else:
        setattr(node, name, child)


def passes(tests: list[str], seconds: int) -> bool:
    """Whether the tests pass in a fork, which imports the copy's modules anew."""
    if (child := os.fork()) == 0:
        signal.alarm(seconds)  # kills a fork that a fault has sent round for ever
        for stream in (1, 2):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
        here = str(Path.cwd())
        for name in [name for name, m in sys.modules.items() if str(getattr(m, "__file__", "")).startswith(here)]:
            del sys.modules[name]
        os._exit(pytest.main([*OPTIONS, *tests]))
    return os.waitpid(child, 0)[1] == 0


def main(module: str, tests: list[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        copy = shutil.copytree(ROOT, Path(folder).resolve() / "copy", ignore=NO_COPY)
        os.chdir(copy)
        sys.path[:0] = [str(copy / "core"), str(copy / "plugins")]
        sys.dont_write_bytecode = True
        start = time.monotonic()
        if pytest.main([*OPTIONS, *tests]) != 0:
            sys.exit("the tests must pass before a fault is planted")
        patience = int(10 + 5 * (time.monotonic() - start))
        tree = ast.parse(Path(module).read_text("utf-8"))
        planted = survived = 0
        for line, before, after in mutants(tree):
            Path(module).write_text(ast.unparse(ast.fix_missing_locations(tree)), "utf-8")
            planted += 1
            if passes(tests, patience):
                survived += 1
                print(f"{module}:{line}: {before[:90]!r} -> {after[:90]!r}", flush=True)
        print(f"{module}: {planted - survived} of {planted} killed, {100 * (1 - survived / planted):.1f} %")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
