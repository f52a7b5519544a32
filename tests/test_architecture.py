"""The rules of the house that no single module can hold by itself."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
OURS = [*sorted(ROOT.glob("pipeline/**/*.py")), *sorted(ROOT.glob("schemas/**/*.py"))]
EVERY_MODULE = [*OURS, *sorted(ROOT.glob("tests/**/*.py"))]

OUR_PACKAGES = {"pipeline", "schemas", "tests"}
# Each room may use itself and what stands before it.
ORDER = [
    "schemas",
    "pipeline.errors",
    "pipeline.control_characters",
    "pipeline.version",
    "pipeline.folders",
    "pipeline.team_files",
    "pipeline.team_tables",
    "pipeline.last_lines",
    "pipeline.last_build",
    "pipeline.unmade",
    "pipeline.catalogue",
    "pipeline.settings",
    "pipeline.scales",
    "pipeline.intake",
    "pipeline.warehouse",
    "pipeline.estimate",
    "pipeline.programme",
    "pipeline.review",
    "pipeline.plan",
    "pipeline.report",
    "pipeline.parts",
    "pipeline.build",
    "pipeline.commands",
    "pipeline.__main__",
]
# Inside a room likewise, part by part; modules that stand in the room itself come last.
PARTS = {
    "pipeline.intake": [
        "read", "parse", "recognise", "account", "rows", "settle", "doubts", "privacy",
    ],
    "pipeline.estimate": ["sessions", "filter"],
    "pipeline.review": ["decisions", "training", "differences", "flags"],
    "pipeline.report": [
        "text", "charts", "page_models", "sections", "athlete", "pack", "reference", "pdf",
        "outputs",
    ],
}  # fmt: skip
MOST_FILES = 12
MOST_PARAMETERS = 7
SLOW_TO_IMPORT = {
    "altair", "babel", "duckdb", "fastexcel", "numpy", "openpyxl", "pandera", "polars", "pydantic",
    "scipy", "vl_convert", "weasyprint",
}  # fmt: skip
SQL = re.compile(
    r"\bselect\b.+\bfrom\b|\binsert\s+into\b|\bdelete\s+from\b|\bdrop\s+(table|view)\b"
    r"|\bcreate\s+(or\s+replace\s+)?(temp\w*\s+)?(table|view|schema)\b|\balter\s+table\b",
    re.IGNORECASE | re.DOTALL,
)
# The one place where a relation's file becomes a table, and where a frame does.
SQL_ALLOWED = {
    "pipeline/warehouse/database.py": {
        "create table if not exists {} as from incoming",
        "insert into {} from incoming",
        "create or replace table {} as {}",
    }
}


def shown(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def name_of(path: Path) -> str:
    """`pipeline/intake/recognise/kinds.py` is `pipeline.intake.recognise.kinds`."""
    return shown(path).removesuffix(".py").replace("/", ".")


def room_of(module: str) -> str:
    parts = module.split(".")
    return parts[0] if parts[0] == "schemas" else ".".join(parts[:2])


def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imports(nodes: Iterable[ast.AST], module: str) -> set[str]:
    """Full names of what the nodes import; `from a import b` gives `a.b`."""
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = module.split(".")[: -node.level] if node.level else []
            base = ".".join([*above, *filter(None, [node.module])])
            found |= {f"{base}.{alias.name}" for alias in node.names}
    return found


def imports_of(path: Path) -> set[str]:
    return imports(ast.walk(tree_of(path)), name_of(path))


def packages(names: set[str]) -> set[str]:
    return {name.split(".")[0] for name in names}


def importers(package: str) -> set[str]:
    return {shown(path) for path in OURS if package in packages(imports_of(path))}


def texts(tree: ast.Module) -> Iterator[str]:
    """Every string of a module but its docstrings; what is filled in later stands as {}."""
    filled = [node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)]
    apart = {id(part) for node in filled for part in ast.walk(node)}
    apart |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in filled:
        yield "".join(
            str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
        )
    for part in ast.walk(tree):
        if isinstance(part, ast.Constant) and isinstance(part.value, str) and id(part) not in apart:
            yield part.value


def test_every_module_has_its_place_in_the_order() -> None:
    rooms = {room_of(name_of(path)) for path in OURS} - {"pipeline.__init__"}
    assert rooms == set(ORDER)


def test_imports_point_one_way() -> None:
    against = []
    for path in OURS:
        own = room_of(name_of(path))
        # The package itself asks which Python it needs, before anything of it is imported.
        allowed = ORDER[: ORDER.index(own) + 1] if own in ORDER else ["pipeline.version"]
        ours = {name for name in imports_of(path) if name.split(".")[0] in OUR_PACKAGES}
        against += [(shown(path), name) for name in ours if room_of(name) not in allowed]
    assert against == []


def part_of(module: str, room: str) -> str:
    """The part of a room a module stands in, or what it is called itself."""
    inside = module.removeprefix(room).lstrip(".").split(".")[0]
    return inside if inside in PARTS[room] else ""


def test_imports_point_one_way_inside_a_room() -> None:
    against = []
    for path in OURS:
        room = room_of(name_of(path))
        own = part_of(name_of(path), room) if room in PARTS else ""
        if own:
            allowed = PARTS[room][: PARTS[room].index(own) + 1]
            inside = {name for name in imports_of(path) if room_of(name) == room}
            against += [(shown(path), n) for n in inside if part_of(n, room) not in allowed]
    assert against == []


def test_every_part_is_there() -> None:
    for room, parts in PARTS.items():
        folder = ROOT / room.replace(".", "/")
        folders = {path.parent.name for path in folder.glob("*/__init__.py")}
        assert folders <= set(parts), room
        for part in parts:
            assert (folder / part).is_dir() or (folder / f"{part}.py").is_file(), (room, part)


def test_no_room_has_more_than_a_dozen_files() -> None:
    rooms = {path.parent for path in OURS}
    files = {
        shown(room): len([file for file in room.glob("*.*") if file.stem[:2] != "__"])
        for room in (*rooms, *(path.parent for path in ROOT.glob("pipeline/warehouse/*/*.sql")))
    }
    assert {room: count for room, count in files.items() if count > MOST_FILES} == {}


def test_estimate_and_review_know_neither_database_nor_contracts() -> None:
    aware = importers("duckdb") | importers("pandera")
    assert {
        path for path in aware if path.startswith(("pipeline/estimate", "pipeline/review"))
    } == (set())


def test_pandera_stays_in_the_contracts() -> None:
    contracts = {"pipeline/intake/settle/contracts.py"}
    contracts |= {shown(path) for path in ROOT.glob("schemas/**/*.py")}
    assert importers("pandera") <= contracts


def test_sql_stands_in_sql_files() -> None:
    found = {shown(path): {t for t in texts(tree_of(path)) if SQL.search(t)} for path in OURS}
    assert {path: found for path, found in found.items() if found} == SQL_ALLOWED


def test_no_module_asks_what_day_it_is() -> None:
    """The as-of date comes from the data or the command line, so that a build can be repeated."""
    asking = [
        (shown(path), node.func.attr)
        for path in OURS
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in {"today", "now", "utcnow", "localtime", "gmtime"}
    ]
    assert asking == []


def test_no_module_is_longer_than_300_lines() -> None:
    most = {path: 300 if path in OURS else 400 for path in EVERY_MODULE}
    lengths = {path: len(path.read_text("utf-8").splitlines()) for path in EVERY_MODULE}
    assert [shown(path) for path in EVERY_MODULE if lengths[path] > most[path]] == []


def parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    given = node.args
    named = [*given.posonlyargs, *given.args, *given.kwonlyargs]
    return len(named) + sum(more is not None for more in (given.vararg, given.kwarg))


def test_no_function_is_told_more_than_seven_things() -> None:
    """What belongs together is handed over together, by the name the craft has for it."""
    asking = [
        (shown(path), node.name)
        for path in OURS
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and parameters(node) > MOST_PARAMETERS
    ]
    assert asking == []


def test_no_two_modules_have_a_function_of_one_name() -> None:
    """Whoever looks for a function by its name finds the one that is meant."""
    places: dict[str, list[str]] = {}
    for path in OURS:
        for node in tree_of(path).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(shown(path))
    assert {name: paths for name, paths in places.items() if len(paths) > 1} == {}


def test_command_line_imports_nothing_slow_at_its_top() -> None:
    path = ROOT / "pipeline" / "__main__.py"
    assert packages(imports(tree_of(path).body, name_of(path))) & SLOW_TO_IMPORT == set()


def test_help_appears_without_loading_what_a_build_needs() -> None:
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "pipeline", "--help"],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in run.stderr.splitlines()}
    assert (run.returncode, "argparse" in loaded) == (0, True)
    assert loaded & SLOW_TO_IMPORT == set()


def test_a_query_in_python_would_be_noticed() -> None:
    tree = ast.parse(
        '"""select a from b"""\n'
        'QUERY = f"Select {1} from stg_trials"\n'
        'WORDS = "select a file, then go"\n'
    )
    assert [text for text in texts(tree) if SQL.search(text)] == ["Select {} from stg_trials"]


def test_imports_inside_functions_and_relative_ones_are_seen() -> None:
    tree = ast.parse(
        "def late():\n    import duckdb\n    from . import database\n    from .a import b"
    )
    assert imports(ast.walk(tree), "pipeline.warehouse.__init__") == {
        "duckdb",
        "pipeline.warehouse.database",
        "pipeline.warehouse.a.b",
    }
