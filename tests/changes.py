"""One small change to a module after the other, of the kind that people make by mistake."""

import ast
from collections.abc import Iterator
from typing import Any

SWAPS = dict(
    pair.split(" ")
    for both in ("min max", "first last", "any all", "is_null is_not_null", "left inner",
                 "forward_fill backward_fill", "is_duplicated is_unique", "backward forward")
    for pair in (both, " ".join(reversed(both.split(" "))))
)  # fmt: skip
OTHERS: dict[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt), ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,), ast.And: (ast.Or,),
    ast.Or: (ast.And,), ast.Add: (ast.Sub,), ast.Sub: (ast.Add,), ast.BitAnd: (ast.BitOr,),
    ast.BitOr: (ast.BitAnd,), ast.Mult: (ast.Add,), ast.Div: (ast.Mult,),
}  # fmt: skip
# Calls that may be left out, and each of their arguments; keywords without which calls go on.
STEPS = {"sort", "unique", "over", "group_by", "fill_null", "forward_fill", "filter", "shift",
         "set", "drop_nulls", "strip_chars", "to_lowercase", "sorted", "reversed"}  # fmt: skip
KEYWORDS = {"keep", "maintain_order", "closed", "reverse", "key", "default", "initial", "how"}


def changed(node: ast.AST) -> Iterator[ast.AST]:
    """What may stand in place of a node, one change each."""
    for other in OTHERS.get(type(node), ()):
        yield other()
    match node:
        case ast.BinOp(left=left, op=ast.BitAnd() | ast.BitOr(), right=right):
            yield from (left, right)
        case ast.UnaryOp(operand=operand):
            yield operand
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield ast.Constant(1 - value if value in (0, 1) else value + 1)
        case ast.Constant(value=str(value)) if value in SWAPS:
            yield ast.Constant(SWAPS[value])
        case ast.Attribute(value=of, attr=name) if name in SWAPS:
            yield ast.Attribute(of, SWAPS[name], ast.Load())
        case ast.If(test=test, body=body, orelse=orelse):
            yield ast.If(ast.UnaryOp(ast.Not(), test), body, orelse)
        case ast.Expr(value=ast.Call()) | ast.AugAssign():
            yield ast.Pass()
        case ast.Tuple(elts=[_, _, *_] as several, ctx=ast.Load()):
            if any(isinstance(one, ast.Constant | ast.Starred) for one in several):
                yield from (ast.Tuple(rest, ast.Load()) for rest in without_one(several))
        case ast.Call(func=of, args=given, keywords=named):
            name = of.attr if isinstance(of, ast.Attribute) else getattr(of, "id", "")
            if name in STEPS:
                yield of.value if isinstance(of, ast.Attribute) else given[0]
                yield from (ast.Call(of, rest, named) for rest in without_one(given) if rest)
            elif len(given) == 2:
                yield ast.Call(of, given[::-1], named)
            if name == "shift":
                yield ast.Call(of, [ast.UnaryOp(ast.USub(), given[0])], named)
            for one, rest in zip(named, without_one(named), strict=True):
                if one.arg in KEYWORDS:
                    yield ast.Call(of, given, rest)


def without_one(several: list[Any]) -> Iterator[list[Any]]:
    """The list without each of its elements in turn."""
    return ([*several[:place], *several[place + 1 :]] for place in range(len(several)))


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
                before = ast.unparse(node if hasattr(node, "lineno") else parent).split("\n")[0]
                for other in changed(node):
                    with_other = [*several[:place], other, *several[place + 1 :]]
                    setattr(parent, name, with_other if held is several else other)
                    text = ast.unparse(ast.fix_missing_locations(tree))
                    after = ast.unparse(other if hasattr(node, "lineno") else parent)
                    line = getattr(node, "lineno", getattr(parent, "lineno", 0))
                    yield line, f"{before}  ->  {after.splitlines()[0]}", text
                setattr(parent, name, held)
