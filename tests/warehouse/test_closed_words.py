"""The words of closed sets in SQL: what is compared with such a column, or becomes one."""

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest

from schemas.contracts.relations import RELATIONS
from schemas.contracts.training_relations import REVIEWED
from tests.closed_columns import COLUMNS

FILES = sorted((Path(__file__).parents[2] / "pipeline" / "warehouse").rglob("*.sql"))
CHOOSING = {"coalesce", "if", "ifnull", "nullif", "any_value", "first", "last", "min", "max"}


def literals(sql: str) -> set[tuple[str, str]]:
    """Column and word, for every text of a query that a column is compared with or becomes."""
    with duckdb.connect() as database:
        found = database.execute("select json_serialize_sql(?)", [sql]).fetchone()
    tree = json.loads(found[0]) if found else {"error": True}
    assert not tree["error"], tree
    return {*_walk(tree)}


def _walk(node: Any) -> Iterator[tuple[str, str]]:
    if isinstance(node, list):
        for one in node:
            yield from _walk(one)
    if not isinstance(node, dict):
        return
    if node.get("class") == "COMPARISON" or str(node.get("type")).startswith("COMPARE_"):
        names = ("left", "right", "input", "lower", "upper")
        sides = node.get("children") or [node[name] for name in names if name in node]
        yield from _pairs(_columns(sides), sides)
    if _is_choice(node):
        yield from _pairs(_columns([node]), [node])
    if node.get("alias") and "class" in node:
        yield from _pairs([node["alias"]], [node])
    # Unless they go by name, columns below a union are called as in its first part.
    if node.get("setop_type") not in (None, "UNION_BY_NAME"):
        first, *others = (_selected(part) for part in node["children"])
        for other in others:
            for one, two in zip(first, other, strict=False):
                yield from _pairs(filter(None, [one["alias"], *_columns([one])]), [two])
    if node.get("column_name_alias") and "subquery" in node:  # (values …) as name (column)
        for row in _rows(node["subquery"]):
            for name, value in zip(node["column_name_alias"], row, strict=False):
                yield from _pairs([name], [value])
    for one in node.values():
        yield from _walk(one)


def _selected(node: dict[str, Any]) -> list[dict[str, Any]]:
    return node["select_list"] if "select_list" in node else _selected(node["children"][0])


def _rows(node: Any) -> Iterator[list[Any]]:
    """The rows of every `values` list below."""
    if isinstance(node, list):
        for one in node:
            yield from _rows(one)
    elif isinstance(node, dict):
        if node.get("type") == "EXPRESSION_LIST":
            yield from node["values"]
        for one in node.values():
            yield from _rows(one)


def _pairs(columns: Iterable[str], nodes: Iterable[Any]) -> Iterator[tuple[str, str]]:
    texts = [text for node in nodes for text in _texts(node)]
    yield from ((column, text) for column in columns for text in texts)


def _is_choice(node: dict[str, Any]) -> bool:
    return node.get("type") == "OPERATOR_COALESCE" or node.get("function_name") in CHOOSING


def _values(node: dict[str, Any]) -> list[Any]:
    """The parts of an expression one of which it takes as its value."""
    if node.get("class") == "CASE":
        return [*(one["then_expr"] for one in node["case_checks"]), node["else_expr"]]
    if node.get("class") == "CAST":
        return [node["child"]]
    if not _is_choice(node):
        return []
    parts = node.get("children") or [one["expression"] for one in node["arguments"]]
    return parts[1:] if node.get("function_name") == "if" else parts


def _texts(node: dict[str, Any]) -> Iterator[str]:
    literal = node.get("literal") or {}
    if literal.get("kind") == "STRING":
        yield literal["text"]
    for part in _values(node):
        yield from _texts(part)


def _columns(nodes: Iterable[dict[str, Any]]) -> Iterator[str]:
    for node in nodes:
        if node.get("class") == "COLUMN_REF":
            yield node["column_names"][-1]
        yield from _columns(_values(node))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_word_in_sql_is_one_its_column_may_hold(path: Path) -> None:
    strange = {
        (column, word)
        for column, word in literals(path.read_text(encoding="utf-8"))
        if column in COLUMNS and word not in set(COLUMNS[column])
    }
    assert strange == set()


def test_words_are_found_wherever_they_stand_in_a_query() -> None:
    sql = """
        select 'a1' as side, coalesce(t.region, 'a2') = 'a3' as is_so,
            case t.rule when 'a4' then 1 end as number, if(t.x > 1, 'a5', 'a6') as reason,
            case when t.side in ('b1', 'b2') then 'b3' else 'b4' end as turn,
            sum(t.n) filter (where t.status is distinct from 'b5') as total
        from t cross join (values ('b6')) as sides (worked_side)
        where t.cause not in ('c1') and t.free || 'c2' = 'c3'
        union all
        select 'c4', true, 1, 'c5', 'c6', 1
    """
    assert literals(sql) == {
        ("side", "a1"), ("region", "a2"), ("region", "a3"), ("rule", "a4"), ("reason", "a5"),
        ("reason", "a6"), ("side", "b1"), ("side", "b2"), ("turn", "b3"), ("turn", "b4"),
        ("status", "b5"), ("worked_side", "b6"), ("cause", "c1"), ("side", "c4"),
        ("reason", "c5"), ("turn", "c6"),
    }  # fmt: skip


def test_the_relations_hold_no_other_words() -> None:
    """A column of that name has a contract, and all the words it allows are of the vocabulary."""
    for model in (*RELATIONS.values(), *REVIEWED):
        schema = model.to_schema()
        for name, column in schema.columns.items():
            allowed = [one.statistics.get("allowed_values") for one in column.checks]
            held = {word for words in allowed if words is not None for word in words}
            if name in COLUMNS:
                assert held and held <= set(COLUMNS[name]), (schema.name, name)
