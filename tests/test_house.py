"""The house as DEVELOPERS.md draws it: floors, quiet stages, short files and functions, one-way imports."""

import ast
import collections
import re
import subprocess
import sys
import tomllib
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
PACKAGE = TOP / "swatchread"

#: A room may use the rooms on lower floors, and itself.
FLOORS = (
    {"errors"},
    {"colour"},
    {"photo"},
    {"chart", "recipes"},
    {"correction", "plane"},
    {"ground"},
    {"grid"},
    {"card"},
    {"hints", "ink", "sampling"},
    {"note"},
    {"reading", "writing"},
    {"archive", "setup"},
    {"comparison"},
    {"report"},
    {"custom_chart", "palette"},
    {"batch"},
    {"page"},
    {"cli"},
    {"__main__"},
)
FLOOR = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}

MOST_FILES_AT_THE_TOP = 4
MOST_LINES = 300
MOST_CODE_LINES = 45
MOST_ARGUMENTS = 6

#: Files over the limit, each with its reason.
LONG_FILES = {
    "errors.py": "a list of short classes, one for each way of failing",
}
#: Functions over the limit, each with its reason.
LONG_FUNCTIONS = {
    "cli/read_command.py:read": "a command of many options, each of which is a line or two of its head",
}


def module_name(path):
    return ".".join(path.relative_to(TOP).with_suffix("").parts).removesuffix(".__init__")


@cache
def sources(folder="swatchread"):
    """Return module name -> (path, syntax tree) of every module below a folder."""
    paths = sorted((TOP / folder).rglob("*.py"))
    return {module_name(p): (p, ast.parse(p.read_text("utf-8"))) for p in paths}


def at_run_time(node):
    """Walk a syntax tree without what stands under `if TYPE_CHECKING`."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and isinstance(child.test, ast.Name) and child.test.id == "TYPE_CHECKING":
            continue
        yield child
        yield from at_run_time(child)


def imported(tree, nodes=at_run_time):
    """Yield the full names of what a module imports, at its top and inside its functions."""
    for node in nodes(tree):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield from (f"{node.module}.{name.name}" for name in node.names)


def room(name):
    """Return the room of a dotted name within the package, or "" for the package itself and for names in it."""
    parts = name.split(".")
    return parts[1] if len(parts) > 1 and parts[1] in FLOOR else ""


# --- floors


def test_every_module_has_a_floor():
    homeless = [name for name in sources() if name != "swatchread" and not room(name)]
    assert homeless == []
    empty = [r for r in FLOOR if not (PACKAGE / r).is_dir() and not (PACKAGE / f"{r}.py").is_file()]
    assert empty == []


def test_no_two_modules_share_a_name():
    """A name says where a thing is; `__init__` alone stands in every room."""
    names = collections.Counter(path.name for path, _ in sources().values() if path.name != "__init__.py")
    assert [name for name, count in names.items() if count > 1] == []


def test_few_files_stand_at_the_top():
    assert len(list(PACKAGE.glob("*.py"))) <= MOST_FILES_AT_THE_TOP


def test_imports_point_downward():
    """TYPE_CHECKING does not count: it is not run."""
    upward = []
    for name, (_, tree) in sources().items():
        own = room(name)
        rooms = {target: room(target) for target in imported(tree) if target.split(".")[0] == "swatchread"}
        upward += [
            f"{name} imports {t}" for t, r in rooms.items() if own and r not in {"", own} and FLOOR[r] >= FLOOR[own]
        ]
    assert upward == []


def test_no_circles():
    """Between modules too, so that any one can be imported first."""
    known = sources()
    graph = {}
    for name, (_, tree) in known.items():
        targets = set(imported(tree))
        graph[name] = {t if t in known else t.rpartition(".")[0] for t in targets} & set(known) - {"swatchread"}
    assert len(list(TopologicalSorter(graph).static_order())) > 50


def test_the_map_is_drawn_as_the_house_stands():
    """DEVELOPERS.md lists every room on its floor."""
    floor, drawn = -1, {}
    for line in (TOP / "DEVELOPERS.md").read_text("utf-8").splitlines():
        cells = [c.strip() for c in line.split("|")[1:-1]]
        if len(cells) == 3 and cells[1].startswith("`"):
            floor = int(cells[0]) if cells[0] else floor
            drawn[cells[1].strip("`/").removesuffix(".py")] = floor
    assert drawn == FLOOR


# --- quiet stages


def calls(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            yield node, ast.unparse(node.func)


SPEAKERS = {"swatchread.report.console", "swatchread.report.console_answers",
            "swatchread.batch.batch_report"}  # fmt: skip
"""Called by the commands to speak: tables for a console."""


def test_stages_are_quiet():
    """Nothing but the commands prints, asks, or reads the command line."""
    loud = []
    for name, (_, tree) in sources().items():
        if room(name) == "cli" or name in SPEAKERS:
            continue
        loud += [f"{name}:{node.lineno} {called}" for node, called in calls(tree)
                 if called in {"print", "input", "typer.echo", "typer.secho", "Console", "sys.exit"}]  # fmt: skip
        loud += [f"{name}: {t}" for t in imported(tree) if t.split(".")[0] in {"typer", "click", "argparse"}]
        loud += [f"{name}:{n.lineno} sys.argv" for n in ast.walk(tree)
                 if isinstance(n, ast.Attribute) and ast.unparse(n) == "sys.argv"]  # fmt: skip
    assert loud == []


def test_errors_become_messages_only_where_someone_listens():
    """No `except SwatchreadError` below the commands, the batch (it reports them at the end) and the filling page."""
    listening = {"cli", "page", "batch"}
    swallowers = []
    for name, (_, tree) in sources().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.ExceptHandler) and node.type is not None and room(name) not in listening:
                caught = ast.unparse(node.type)
                ends = node.body[-1]
                if "SwatchreadError" in caught and not isinstance(ends, ast.Raise):
                    swallowers.append(f"{name}:{node.lineno}")
    assert swallowers == []


# --- who may import what


@cache
def libraries(folder):
    """Return module name -> the top names of what it imports."""
    return {name: {target.split(".")[0] for target in imported(tree)} for name, (_, tree) in sources(folder).items()}


def importers(library, folder):
    return {name for name, used in libraries(folder).items() if library in used}


#: Names under which distributions are imported, where these differ.
IMPORT_NAMES = {
    "colour-checker-detection": "colour_checker_detection",
    "colour-science": "colour",
    "lazy-loader": "lazy_loader",
    "opencv-python": "cv2",
    "pillow": "PIL",
    "pillow-heif": "pillow_heif",
    "scikit-image": "skimage",
}


def test_every_dependency_is_used():
    """What a user has to install does work in the program."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]
    declared = [re.split(r"[<>=\[ ]", dependency)[0].lower() for dependency in project["dependencies"]]
    assert len(declared) > 10
    unused = {d for d in declared if not importers(IMPORT_NAMES.get(d, d), "swatchread")} - {"python-multipart"}
    # Starlette loads it when a form with files comes in, and names it as an extra.
    assert unused == set()


def test_one_module_talks_to_the_colour_library():
    """Chart data, published tables and spectra stand behind `colour/standards.py`."""
    assert importers("colour", "swatchread") == {"swatchread.colour.standards"}
    # Which loads it too, after a failure only.
    assert importers("colour_checker_detection", "swatchread") == {"swatchread.chart.second_opinion"}


def test_a_reading_does_not_load_the_colour_library():
    """Loading it takes longer than reading a photo: a whole reading in a fresh interpreter goes without."""
    code = (
        "import sys, swatchread; swatchread.read_photo('samples/white-card.jpg');"
        "print('loaded:', *[m for m in ('colour', 'colour_checker_detection', 'skimage') if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60, cwd=TOP)
    assert ran.stdout.splitlines()[-1].split() == ["loaded:", "skimage"]


def test_the_simulator_shares_no_code_with_the_reader():
    """Else they would agree by construction. Its tests and benches may use both."""
    assert importers("swatchread", "tests/scene") == set()
    assert importers("swatchread", "tests/bench")


def test_the_command_line_starts_light():
    """What the overview and the help of every command load: none of the heavy libraries, in a fresh interpreter."""
    heavy = ["numpy", "cv2", "scipy", "skimage", "colour", "sqlalchemy", "PIL", "rawpy", "pillow_heif", "starlette",
             "uvicorn", "jinja2", "matplotlib", "swatchread.note.model"]  # fmt: skip
    only_overview = ["pydantic", "rich", "swatchread.cli.archive_command", "swatchread.cli.read_command"]
    code = (
        "import sys; from swatchread.cli.main import app\n"
        f"for words in {[(), *leaves()]}:\n"
        "    try: app([*words, '--help'])\n"
        "    except SystemExit: pass\n"
        f"    print('loaded:', *[m for m in {heavy} + [[], {only_overview}][not words] if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60, cwd=TOP)
    loaded = [line for line in ran.stdout.splitlines() if line.startswith("loaded:")]
    assert set(loaded) == {"loaded:"}
    assert len(loaded) == 1 + len(leaves())


def test_the_overview_names_commands_that_load_and_fits_80_columns():
    from swatchread.cli.lazy_commands import COMMANDS

    named = commands()[()].commands
    assert list(named) == list(COMMANDS)
    for name, (_, told) in COMMANDS.items():
        assert named[name].name == name
        assert len(told) <= 66
        assert told.endswith(".")


# --- sizes


def test_files_are_short():
    lengths = {path.relative_to(PACKAGE).as_posix(): len(path.read_text("utf-8").splitlines())
               for path, _ in sources().values()}  # fmt: skip
    assert {file: lines for file, lines in lengths.items() if lines > MOST_LINES and file not in LONG_FILES} == {}
    assert [file for file in LONG_FILES if lengths.get(file, 0) <= MOST_LINES] == []  # no longer an exception


def code_lines(function, lines):
    """Count the lines of a function that are neither blank, comment nor docstring."""
    head = function.body[0]
    doc = range(head.lineno, head.end_lineno + 1) if ast.get_docstring(function) else ()
    code = (lines[n - 1].strip() for n in range(function.lineno, function.end_lineno + 1) if n not in doc)
    return sum(1 for line in code if line and not line.startswith("#"))


def functions(tree):
    return [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]


def test_functions_are_short():
    longest = collections.Counter()
    for path, tree in sources().values():
        lines, file = path.read_text("utf-8").splitlines(), path.relative_to(PACKAGE).as_posix()
        for function in functions(tree):
            longest |= collections.Counter({f"{file}:{function.name}": code_lines(function, lines)})
    assert {at: lines for at, lines in longest.items() if lines > MOST_CODE_LINES and at not in LONG_FUNCTIONS} == {}
    assert [at for at in LONG_FUNCTIONS if longest[at] <= MOST_CODE_LINES] == []  # no longer an exception


def test_functions_take_few_arguments():
    """A command's options are its arguments, so the commands are left out."""
    greedy = []
    for name, (_, tree) in sources().items():
        for function in functions(tree) if room(name) != "cli" else ():
            arguments = function.args
            taken = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
            taken = [a for a in taken if a.arg not in {"self", "cls"}]
            if len(taken) > MOST_ARGUMENTS:
                greedy.append(f"{name}.{function.name}")
    assert greedy == []


def test_public_functions_are_documented():
    """Every public module, class and function outside the commands has a docstring."""
    missing = []
    for name, (_, tree) in sources().items():
        if not ast.get_docstring(tree):
            missing.append(name)
        for node in tree.body:
            public = isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
            if public and room(name) != "cli" and not ast.get_docstring(node):
                missing.append(f"{name}.{node.name}")
    assert missing == []


# --- the documents say what is there


def readme():
    return (TOP / "README.md").read_text("utf-8")


def developers():
    return (TOP / "DEVELOPERS.md").read_text("utf-8")


def subclasses(kind):
    for sub in kind.__subclasses__():
        yield sub
        yield from subclasses(sub)


def test_the_documents_explain_every_error_warning_and_flag():
    from swatchread import errors
    from swatchread.note import flags_and_warnings as flags

    codes = {sub.code for sub in subclasses(errors.SwatchreadError)} | set(flags.WARNINGS) | set(flags.SWATCH_FLAGS)
    assert sorted(code for code in codes if f"`{code}`" not in developers()) == []


@cache
def commands():
    """Command words, such as ("archive", "find"), with the command that they call; without any, the program itself."""
    import typer.main

    from swatchread.cli.main import app

    found = {}

    def walk(command, words):
        found[words] = command
        for name, inner in getattr(command, "commands", {}).items():
            walk(inner, (*words, name))

    walk(typer.main.get_command(app), ())
    return found


def options_of(words):
    return {option for parameter in commands()[words].params for option in parameter.opts + parameter.secondary_opts}


def leaves():
    """Words of the commands that do something, in contrast to those that group others."""
    return [words for words, command in commands().items() if not hasattr(command, "commands")]


def told_commands(text):
    """Yield the words after each `swatchread` that stands at the start of code in a text."""
    for line in re.findall(r"(?:^ {4}|`)(?:\.venv/bin/)?swatchread ([^`#\n]+)", text, re.MULTILINE):
        if not line.startswith("…"):
            yield line.split()


def options_in(text):
    return set(re.findall(r"(?<![\w-])--[a-z][a-z-]+(?![\w-])", text))


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_documents_name_commands_that_exist(document):
    told = list(told_commands((TOP / document).read_text("utf-8")))
    assert told
    for line in told:
        words = ()
        for word in line:
            if (*words, word) not in commands():
                break
            words = (*words, word)
        assert words or line[0].startswith("-"), line
        options = {word.split("=")[0] for word in line if word.startswith("--")}
        assert options <= options_of(words) | options_of(()) | {"--help"}, line


def test_every_command_is_in_the_readme_and_has_help():
    told = {tuple(line[: len(words)]) for line in told_commands(readme()) for words in leaves()}
    seldom = {("archive", "remove"), ("archive", "check")}
    assert [words for words in leaves() if words not in told | seldom] == []
    assert [words for words in leaves() if not commands()[words].help] == []


def test_options_named_in_messages_exist():
    known = set().union(*map(options_of, commands())) | {"--help"}
    texts = [node.value for _, tree in sources().values() for node in ast.walk(tree)
             if isinstance(node, ast.Constant) and isinstance(node.value, str)]  # fmt: skip
    assert sorted(set().union(*map(options_in, texts)) - known) == []


def test_what_a_remedy_of_read_asks_for_can_be_done():
    """The options in it are options of `read`."""
    from swatchread import errors

    of_read = options_of(("read",))
    for failure in (errors.PhotoError, errors.PhotoTooLargeError, errors.GreyPhotoError, errors.NoChartError,
                    errors.MirroredChartError, errors.NoSwatchesError, errors.PoorReadingError):  # fmt: skip
        assert failure.usual_remedy
        assert options_in(failure.usual_remedy) <= of_read


def test_ci_runs_the_readmes_test_line():
    """`.ci/run` takes the line from the README; it must find one, and only the one for tests."""
    lines = re.findall(r"^ *python3 -m venv .*pytest.*$", readme(), re.MULTILINE)
    assert len(lines) == 1
    assert "README.md" in (TOP / ".ci" / "run").read_text("utf-8")
