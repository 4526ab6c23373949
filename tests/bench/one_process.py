"""Import and compute in one process all that a whole run does in four jobs: the yardstick of the bench."""

import sys
from pathlib import Path

from hilum import settings
from hilum.steps import check, fit, publish, report
from hilum.study import Study


def run(config: Path, results: Path) -> None:
    """Run the four steps one after the other, without a workflow engine."""
    chosen = settings.load(config)
    study = Study(raw=chosen.study, results=results / chosen.study.name)
    for step in (check, fit, report, publish):
        step.run(study, chosen)


if __name__ == "__main__":
    run(Path(sys.argv[1]), Path(sys.argv[2]))
