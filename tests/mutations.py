"""What no test would notice: each small change to a module, and whether any test fails with it.

`python -m tests.mutations pipeline/intake/versions.py …` changes one thing after the other in a
copy of the program and prints the changes that nothing notices: neither exports of which it is
known what they say, nor the tests of the intake. By hand: a module takes minutes.
"""

import ast
import importlib
import io
import os
import resource
import shutil
import signal
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

os.environ.setdefault("POLARS_MAX_THREADS", "1")
# Those of single steps before the exports, the others after them; all in `tests/intake`.
FIRST = ("keys", "numbering", "people", "what_stands")
TESTS = ("names", "rosters", "broken_rows")
QUIET = ("-W", "ignore:Module already imported")
SECONDS, MEMORY = 90, 8 << 30
PAIRS = (
    ("min", "max"), ("first", "last"), ("any", "all"), ("is_null", "is_not_null"),
    ("forward_fill", "backward_fill"), ("is_duplicated", "is_unique"), ("left", "inner"),
    ("backward", "forward"), ("is_first_distinct", "is_last_distinct"),
)  # fmt: skip
SWAPS = {one: other for a, b in PAIRS for one, other in ((a, b), (b, a))} | {"anti": "semi"}
COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt), ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,),
}  # fmt: skip
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
    ast.Mult: ast.Add, ast.Div: ast.Mult,
}  # fmt: skip
# Calls that may be left out, of which each argument may; and keywords without which they go on.
STEPS = {
    "sort", "unique", "over", "group_by", "fill_null", "forward_fill", "filter", "shift", "set",
    "drop_nulls", "cast", "strip_chars", "str_lowercase", "implode", "sorted", "reversed",
}  # fmt: skip
KEYWORDS = {"keep", "maintain_order", "closed", "reverse", "key", "default", "initial", "how"}


def changed(node: ast.AST) -> Iterator[ast.AST]:
    """What may stand in place of a node, one change each."""
    again = ast.unparse(node) if isinstance(node, ast.expr) else ""
    match node:
        case ast.Compare(ops=[operator]):
            for other in COMPARED[type(operator)]:
                yield ast.Compare(node.left, [other()], node.comparators)
        case ast.BoolOp(op=operator, values=values):
            yield ast.BoolOp(ast.Or() if isinstance(operator, ast.And) else ast.And(), values)
        case ast.BinOp(op=operator) if type(operator) in OPERATORS:
            yield ast.BinOp(node.left, OPERATORS[type(operator)](), node.right)
            if isinstance(operator, ast.BitAnd | ast.BitOr):
                yield from (node.left, node.right)
        case ast.UnaryOp(operand=operand):
            yield operand
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield ast.Constant(1 - value if value in (0, 1) else value + 1)
        case ast.Constant(value=str(value)) if value in SWAPS:
            yield ast.Constant(SWAPS[value])
        case ast.Attribute(attr=name) if name in SWAPS:
            yield ast.Attribute(node.value, SWAPS[name], node.ctx)
        case ast.IfExp(test=test):
            yield ast.IfExp(ast.UnaryOp(ast.Not(), test), node.body, node.orelse)
        case ast.If(test=test):
            yield ast.If(ast.UnaryOp(ast.Not(), test), node.body, node.orelse)
        case ast.Expr(value=ast.Call()) | ast.AugAssign():
            yield ast.Pass()
        case ast.Tuple(elts=several, ctx=ast.Load()) | ast.List(elts=several, ctx=ast.Load()):
            if len(several) > 1 and any(isinstance(e, ast.Constant | ast.Starred) for e in several):
                for place in range(len(several)):
                    yield type(node)(several[:place] + several[place + 1 :], ast.Load())
    if isinstance(node, ast.Call):
        of, given, named = node.func, node.args, node.keywords
        name = of.attr if isinstance(of, ast.Attribute) else getattr(of, "id", "")
        if name in STEPS:
            yield of.value if isinstance(of, ast.Attribute) else given[0]
            for place in range(len(given) if len(given) > 1 else 0):
                yield ast.Call(of, given[:place] + given[place + 1 :], named)
        elif len(given) == 2:
            yield ast.Call(of, given[::-1], named)
        if name == "shift":
            yield ast.parse(again.replace("shift(", "shift(-"), mode="eval").body
        for place, keyword in enumerate(named):
            if keyword.arg in KEYWORDS:
                yield ast.Call(of, given, named[:place] + named[place + 1 :])


def mutants(source: str) -> Iterator[tuple[int, str, str]]:
    """Line, the change in words, and the whole module with it."""
    tree = ast.parse(source)
    unseen = {"annotation", "returns", "decorator_list", "bases"}
    waiting: list[ast.AST] = [tree]
    while waiting:
        parent = waiting.pop(0)
        if isinstance(parent, ast.JoinedStr):
            continue
        for name, held in list(ast.iter_fields(parent)):
            several = held if isinstance(held, list) else [held]
            for place, node in enumerate(several if name not in unseen else []):
                if not isinstance(node, ast.AST):
                    continue
                waiting.append(node)
                for other in changed(node):
                    with_other = [*several[:place], other, *several[place + 1 :]]
                    setattr(parent, name, with_other if held is several else other)
                    text = ast.unparse(ast.fix_missing_locations(tree))
                    was, becomes = (ast.unparse(one).split("\n")[0] for one in (node, other))
                    yield getattr(node, "lineno", 0), f"{was}  ->  {becomes}", text
                setattr(parent, name, held)


class Copy:
    """A copy of the program in a folder of its own, and exports of which it is known what they say.

    They are read in this process, by an intake imported anew each time: that takes a second.
    """

    def __init__(self, root: Path, place: Path) -> None:
        for name in ("pipeline", "schemas", "report_templates"):
            shutil.copytree(root / name, place / name)
        self.place = place
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        sys.path.insert(0, str(place))
        sys.dont_write_bytecode = True  # files of one second and length look alike
        from tests.weeks import conservation, exports, folders, model, naive, test_conservation
        from tests.weeks.command_line import write

        self.folders, self.faults, known = folders, conservation.faults, place / "known"
        weeks = [[0], [1, 2], range(3, 10)]
        known_folders = [
            exports.write_exports(known / f"weeks {n}", model.together([*map(model.week, seeds)]))
            for n, seeds in enumerate(weeks)
        ]
        for n, case in enumerate(test_conservation.CASES.values()):
            files = {"roster.csv": test_conservation.ROSTER, **case.files}
            known_folders.append(write(known / f"case {n}", files))
        self.known = [(folder, naive.read_folder(folder)) for folder in known_folders]

    def fails(self) -> bool:
        """Whether exports are read otherwise than by the contract, or one of the tests fails."""
        signal.signal(signal.SIGALRM, lambda *_: sys.exit("too long"))
        signal.alarm(SECONDS)
        try:
            return self._test(FIRST) or self._misreads() or self._test(TESTS)
        except BaseException as broken:  # by the change
            if isinstance(broken, KeyboardInterrupt):
                raise
            return True
        finally:
            signal.alarm(0)

    def _misreads(self) -> bool:
        _forget()
        self.folders.read_exports = importlib.import_module("pipeline.intake").read_exports
        for folder, told in self.known:
            with tempfile.TemporaryDirectory(dir=self.place) as reports:
                if self.faults(told, self.folders.taken(folder, Path(reports) / "reports")):
                    return True
        return False

    def _test(self, files: Sequence[str]) -> bool:
        _forget()
        paths = [str(Path(__file__).parent / "intake" / f"test_{name}.py") for name in files]
        with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
            return pytest.main(["-x", "-q", "-p", "no:cacheprovider", *QUIET, *paths]) != 0


def _forget() -> None:
    """What is imported of the intake next is what lies in the copy now."""
    for name in list(sys.modules):
        if name.startswith(("pipeline.intake", "tests.intake")):
            del sys.modules[name]


def main(paths: list[str]) -> None:
    """Print the survivors of each module, or of one line of it (`path:line`)."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(Path(__file__).parents[1], Path(folder))
        if copy.fails():
            sys.exit("The tests fail without any change.")
        for path, _, only in (path.partition(":") for path in paths):
            file, counts = copy.place / path, [0, 0]
            source = file.read_text(encoding="utf-8")
            for line, change, text in mutants(source):
                if only and line != int(only):
                    continue
                file.write_text(text, encoding="utf-8")
                killed = copy.fails()
                counts[killed] += 1
                if not killed:
                    print(f"{path}:{line}: {change}", flush=True)
            file.write_text(source, encoding="utf-8")
            print(f"{path}: {sum(counts)} mutants, {counts[0]} survive", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
