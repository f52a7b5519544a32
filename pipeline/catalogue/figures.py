"""A team's own figures of the practice rules: what each may be, from the limits beside it."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, create_model

from pipeline.catalogue.rules import Limits, Rule, Rules
from pipeline.team_tables import WANTED, TeamTable

# The words each figure that is no number may hold: what a logged load of two dumbbells means.
WORDS = {"dumbbells": Literal["per hand", "pair"]}


class _Plan(TeamTable, title="a practice rule with figures below it"):
    pass


class _Figures(TeamTable, title="a figure of this rule"):
    pass


def plan_figures(rules: Rules) -> type[TeamTable]:
    """A model of the section `plan`: every figure of every practice rule, none of them needed."""
    tables: dict[str, Any] = {
        name: (_figures_of(rule), _Figures()) for name, rule in rules.plan.items()
    }
    return create_model("Plan", __base__=_Plan, **tables)


def _figures_of(rule: Rule) -> type[TeamTable]:
    figures: dict[str, Any] = {
        name: (WORDS.get(name) or _figure(standard, rule.limits, name), standard)
        for name, standard in rule.values.items()
    }
    return create_model(f"Figures_{rule.id}", __base__=_Figures, **figures)


def _figure(standard: Any, limits: Mapping[str, Limits], name: str) -> Any:
    """The type of a figure like `standard`: a number, a pair of them, or a table of numbers."""
    if isinstance(standard, Mapping):
        parts: dict[str, Any] = {
            part: (_figure(one, limits, part), ...) for part, one in standard.items()
        }
        model = create_model(f"Dose_{name}", __base__=_Figures, **parts)
        return Annotated[model, Field(json_schema_extra={WANTED: f"like {standard!r}"})]
    if isinstance(standard, tuple):
        one = _figure(standard[0], limits, name)
        pair: Any = tuple.__class_getitem__((one,) * len(standard))
        like = Field(strict=False, json_schema_extra={WANTED: f"a pair like {list(standard)!r}"})
        return Annotated[pair, like, AfterValidator(_rising)]
    least, most = limits[name]
    return Annotated[type(standard), Field(ge=least, le=most)]


def _rising(pair: tuple[float, ...]) -> tuple[float, ...]:
    if list(pair) != sorted(pair):
        raise ValueError(f"should go from low to high, found {list(pair)!r}.")
    return pair
