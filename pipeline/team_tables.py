"""A table that a team wrote, held against a pydantic model; what is wrong is told in plain words.

What each entry may be is said once, by its field. The sentences about it are made from the model's
JSON schema, where the bounds of a field stand beside each other.
"""

from collections.abc import Iterable, Iterator, Mapping
from difflib import SequenceMatcher
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from pipeline.errors import SquadsidesError

ONE_LINE = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]*$"  # no line ends, no control characters
WANTED = "wanted"  # of a JSON schema: what should stand there, where the type says too little
AnyTable = TypeVar("AnyTable", bound="TeamTable")


class TeamTable(BaseModel):
    """A frozen object of a table; `title` says what its names are, for a name it does not know."""

    # strict: text is no number and 1 is not true, whatever a language makes of them
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, title="a setting here")


def filled(kind: type[AnyTable], table: Mapping[str, Any], place: str) -> AnyTable:
    """A frozen object from a table of a TOML file; what the table does not name keeps its default.

    Raises SquadsidesError naming one entry that is unknown, of another type or out of its bounds.
    """
    try:
        return kind.model_validate(dict(table))
    except ValidationError as wrong:
        fault = wrong.errors(include_url=False)[0]
    at = fault["loc"]
    if fault["type"] in ("extra_forbidden", "missing"):  # what is told of is the table around it
        at = at[:-1]
    where = ": ".join([place, *(part for part in at if isinstance(part, str))])
    schema = _schema_at(kind, at)
    if fault["type"] == "extra_forbidden":
        raise SquadsidesError(f"{where}: {_unknown(str(fault['loc'][-1]), schema)}")
    raise SquadsidesError(f"{where}{_told(fault, schema)}")


def _unknown(name: str, schema: Mapping[str, Any]) -> str:
    near = ", ".join(nearest(name, schema["properties"]))
    hint = f"; nearest: {near}" if near else ", which has none"
    return f"{name} is not {schema['title']}{hint}."


def nearest(wanted: str, known: Iterable[str], n: int = 2) -> list[str]:
    """The n names most alike to what was written, best first."""
    text = wanted.casefold()

    def unlike(name: str) -> tuple[float, str]:
        return -SequenceMatcher(None, text, name.casefold()).ratio(), name

    return sorted(known, key=unlike)[:n]


def _told(fault: ErrorDetails, schema: Mapping[str, Any]) -> str:
    """What should stand in a place and what was found there."""
    found = fault["input"]
    if fault["type"] == "value_error":  # entries at odds, or a name that is not in the catalogue
        said = str(fault["ctx"]["error"])
        return f" {said}" if said.startswith("should") else f": {said}"
    if fault["type"] in ("too_short", "too_long") and WANTED not in schema:
        least, most = schema["minItems"], schema["maxItems"]
        return (
            f": how many there are should be a whole number from {least} to {most}, "
            f"found {len(found)}."
        )
    return f" should be {_wanted(schema)}, found {found!r}."


def _wanted(schema: Mapping[str, Any]) -> str:
    if WANTED in schema:
        return str(schema[WANTED])
    if "enum" in schema:
        return "one of " + ", ".join(f'"{word}"' for word in schema["enum"])
    match schema["type"]:
        case "number" | "integer" as kind:
            least, most = schema["minimum"], schema["maximum"]
            return f"a {'whole ' * (kind == 'integer')}number from {least:g} to {most:g}"
        case "string":
            return f"one line of text of at most {schema['maxLength']} characters"
        case "array":
            return "a list in [ ]"
    return "a section of its own"


def _schema_at(kind: type[BaseModel], place: tuple[int | str, ...]) -> Mapping[str, Any]:
    """What the model's JSON schema says of one place."""
    whole = kind.model_json_schema()
    schema: Mapping[str, Any] = whole
    for part in place:
        if isinstance(part, int):
            schema = schema["prefixItems"][part] if "prefixItems" in schema else schema["items"]
        else:
            schema = schema.get("properties", {}).get(part) or schema["additionalProperties"]
        schema = _referred(schema, whole)
    return schema


def _referred(schema: Mapping[str, Any], whole: Mapping[str, Any]) -> Mapping[str, Any]:
    name = schema.get("$ref", "").rpartition("/")[2]
    return {**whole["$defs"][name], **schema} if name else schema


def entries(kind: type[BaseModel]) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    """Section, name and JSON schema of each entry of the sections of a model."""
    whole = kind.model_json_schema()
    for section, schema in whole["properties"].items():
        for name, entry in _referred(schema, whole).get("properties", {}).items():
            yield section, name, entry
