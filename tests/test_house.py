"""The house keeps its layout: imports go one way, and each step imports only what it needs."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

from hilum import analyses
from hilum.study import STAGES
from tests import docs

REPOSITORY = Path(__file__).parent.parent
PACKAGE = REPOSITORY / "workflow" / "hilum"
# a room may import the rooms named here, and itself
ALLOWED = {
    "stats": set(),
    "tables": {"fates", "study", "settings", "manifest", "strict_yaml", "visible"},
    "analyses": {"fates", "stats", "tables", "figure", "specification", "settings"},
    "diagnosis": {"fates", "stats", "analyses", "figure", "specification"},
    "plan": {
        "fates",
        "stats",
        "analyses",
        "diagnosis",
        "tables",
        "figure",
        "specification",
        "settings",
    },
    "seeds": {"fates", "figure", "specification"},
    "crate": {"analyses", "diagnosis", "markup", "settings", "tables", "visible"},
    "report": {
        "fates",
        "markup",
        "analyses",
        "diagnosis",
        "plan",
        "seeds",
        "figure",
        "settings",
        "study",
        "tables",
    },
    "steps": {
        "stats",
        "analyses",
        "diagnosis",
        "plan",
        "seeds",
        "tables",
        "report",
        "figure",
        "specification",
        "settings",
        "study",
        "manifest",
        "machine",
        "progress",
        "freshness",
        "commit",
        "lock",
        "crate",
        "strict_json",
        "strict_yaml",
        "visible",
    },
}
# the rooms inside plan, in the same way; `model` is a file
IN_PLAN = {
    "asked": set(),
    "simulated": {"asked"},
    "expected": {"asked", "simulated"},
    "advised": {"asked", "simulated", "expected"},
    "failure": {"asked", "simulated"},
    "laid_out": {"asked"},
    "running": set(),
    "model": {"asked", "expected", "advised", "failure", "running"},
    "shown": {"expected", "advised", "failure", "model"},
}


def _imported_rooms(path: Path, house: str = "hilum") -> set[str]:
    """Return the rooms of a house that a file imports."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    inside = f"{house}."
    return {name.removeprefix(inside).split(".")[0] for name in names if name.startswith(inside)}


@pytest.mark.parametrize("room", sorted(ALLOWED))
def test_imports_go_one_way(room):
    for path in sorted((PACKAGE / room).rglob("*.py")):
        upward = _imported_rooms(path) - ALLOWED[room] - {room}
        assert not upward, f"{path.relative_to(PACKAGE)} reaches up to {sorted(upward)}"


def test_imports_go_one_way_inside_plan():
    plan = PACKAGE / "plan"
    paths = sorted(path for path in plan.rglob("*.py") if path != plan / "__init__.py")
    assert {path.relative_to(plan).parts[0].removesuffix(".py") for path in paths} == set(IN_PLAN)
    for path in paths:
        room = path.relative_to(plan).parts[0].removesuffix(".py")
        upward = _imported_rooms(path, "hilum.plan") - IN_PLAN[room] - {room}
        assert not upward, f"{path.relative_to(PACKAGE)} reaches up to {sorted(upward)}"


def test_the_fit_step_imports_none_of_the_slow_packages():
    code = (
        "import sys; from hilum.steps import fit; from hilum import analyses;"
        "[analyses.model(name) for name in analyses.names()];"
        "print(*sorted({'pandas', 'pandera', 'altair', 'scipy.stats', 'scipy.optimize'}"
        " & set(sys.modules)))"
    )
    seen = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert seen.stdout.strip() == ""


def _code_of(rule):
    """Return the files of the package whose edit reruns a rule."""
    text = (REPOSITORY / "workflow" / "rules" / f"{rule}.smk").read_text(encoding="utf-8")
    patterns = re.findall(r'"(workflow/hilum/[^"]+)"', text)
    return {path.resolve() for pattern in patterns for path in REPOSITORY.glob(pattern)}


@pytest.mark.parametrize("number", range(len(STAGES)))
def test_an_edit_of_any_module_that_a_step_uses_reruns_it(number):
    """A rule runs again after each one before it, so their code counts as its own."""
    own = "import sys; from hilum import analyses; from hilum.steps import {};"
    own += "[getattr(analyses, part)(n) for n in analyses.names() for part in {}];"
    own += (
        "print(*(m.__file__ for n, m in sys.modules.items() if n.startswith('hilum')), sep='\\n')"
    )
    parts = {"check": ("describe",), "fit": ("model",), "report": ("chart",)}.get(
        STAGES[number], ()
    )
    code = own.format(STAGES[number], parts)
    seen = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    used = {Path(line).resolve() for line in seen.stdout.splitlines()}
    held = set().union(*(_code_of(rule) for rule in STAGES[: number + 1]))
    assert {path for path in used - held if path.stat().st_size > 200} == set()


def test_an_analysis_imports_no_other():
    """What two of them need stands beside their folders."""
    for name in analyses.names():
        for path in sorted((PACKAGE / "analyses" / name).rglob("*.py")):
            others = _imported_rooms(path, "hilum.analyses") & set(analyses.names()) - {name}
            assert not others, f"{path.relative_to(PACKAGE)} imports {sorted(others)}"


@pytest.mark.parametrize("path", docs.pages(), ids=lambda path: path.parent.name)
def test_pages_made_from_the_code_say_what_the_code_says(path):
    found = path.read_text(encoding="utf-8")
    assert found == docs.pages()[path], "python -m tests.docs writes these pages anew"


def test_each_analysis_describes_itself():
    assert {"imbibition", "temperature", "time_course"} <= set(analyses.names())
    for name in analyses.names():
        about = analyses.describe(name)
        assert about.title
        assert about.question.endswith("?")
        assert about.method
