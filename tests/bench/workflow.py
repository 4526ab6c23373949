"""What the workflow engine costs on top of the work: whole run, no-op, and the edit of one count."""

import shutil
import sys
import tempfile
from pathlib import Path

from tests.bench import cpu

REPOSITORY = Path(__file__).parents[2]
EMPTY = "rule all:\n    input: []\n"


def copied(folder: Path) -> Path:
    """Return a copy of what a run needs, so that the bench touches neither tables nor results."""
    for name in ("workflow", "site", "config", "data", "profiles", "Snakefile"):
        source = REPOSITORY / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, folder / name)
    return folder


def _edit_one_count(folder: Path) -> None:
    """Move one newly germinated seed of the demo to the next inspection of its dish."""
    path = folder / "data/strandline/germination/counts.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    column = lines[0].rstrip("\n").split(",").index("germinated")
    for i in range(1, len(lines) - 1):
        here, after = lines[i].rstrip("\n").split(","), lines[i + 1].rstrip("\n").split(",")
        if here[0] == after[0] and int(here[column] or 0) > 0:
            here[column] = str(int(here[column]) - 1)
            after[column] = str(int(after[column]) + 1)
            lines[i], lines[i + 1] = ",".join(here) + "\n", ",".join(after) + "\n"
            break
    path.write_text("".join(lines), encoding="utf-8")


def run() -> None:
    """Print the CPU of each run and its ratio to the yardstick of the same minute."""
    snakemake = [str(Path(sys.executable).with_name("snakemake")), "--cores", "all"]
    with tempfile.TemporaryDirectory() as name:
        folder = copied(Path(name))
        (folder / "empty").mkdir()
        (folder / "empty" / "Snakefile").write_text(EMPTY, encoding="utf-8")
        yardstick = [sys.executable, "-m", "tests.bench.one_process"]
        places = [str(folder / "config/config.yaml"), str(folder / "alone")]
        alone = cpu.of_command([*yardstick, *places], folder=REPOSITORY)
        whole = cpu.of_command(snakemake, folder=folder)
        empty = cpu.of_command(snakemake, folder=folder / "empty")
        no_op = cpu.of_command(snakemake, folder=folder)
        _edit_one_count(folder)
        edit = cpu.of_command(snakemake, folder=folder)
    print(f"one process doing the same  {alone:6.2f} s CPU")
    print(f"whole run from empty        {whole:6.2f} s CPU   {whole / alone:5.2f} x one process")
    print(f"empty Snakefile             {empty:6.2f} s CPU")
    print(
        f"no-op run                   {no_op:6.2f} s CPU   {no_op / empty:5.2f} x empty Snakefile"
    )
    print(f"edit of one count           {edit:6.2f} s CPU   {edit / no_op:5.2f} x no-op")
