"""Make the demo's crate with other versions of packages, and verify it with those of the lock.

    python -m tests.versions scipy==1.16.3 numpy==2.3.5

The packages are installed by name into an environment of their own, which finds all others in this one.
"""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import tempfile
import venv
from collections.abc import Sequence
from pathlib import Path

REPOSITORY = Path(__file__).parent.parent
STEPS = ("check", "fit", "report", "publish", "crate")


def environment(folder: Path, packages: Sequence[str]) -> Path:
    """Return the Python of a fresh environment in which these packages come before ours."""
    venv.create(folder, with_pip=False)
    python = folder / "bin/python"
    pip = [sys.executable, "-m", "pip", "--python", str(python), "install", "--quiet", "--no-deps"]
    subprocess.run([*pip, *packages], check=True)
    (own,) = folder.glob("lib/*/site-packages")
    # a path of such a file is looked through after the environment's own packages
    (own / "others.pth").write_text(f"{sysconfig.get_path('purelib')}\n", encoding="utf-8")
    return python


def crate(python: Path, results: Path) -> Path:
    """Return the crate of the demo, each step of it run by this Python."""
    places = ["--config", str(REPOSITORY / "config/config.yaml"), "--results", str(results)]
    code = os.environ | {"PYTHONPATH": str(REPOSITORY / "workflow")}
    for step in STEPS:
        subprocess.run([python, "-m", "hilum", step, *places], check=True, env=code)
    return results / "crate"


def main(packages: Sequence[str]) -> int:
    """Print what verify says, and return its exit status."""
    with tempfile.TemporaryDirectory() as name:
        python = environment(Path(name) / "environment", packages)
        made = crate(python, Path(name) / "strandline")
        verify = [sys.executable, "-m", "hilum.steps.verify", str(made)]
        return subprocess.run(verify).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
