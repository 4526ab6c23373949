"""Say what `frictionless` finds wrong with data packages: `python tables.py datapackage.json…`.

Run by the Python of the environment in `requirements.lock` beside this file.
"""

import json
import sys

from frictionless import Package, system


def found(path: str) -> dict[str, object]:
    """Return how many tables a package has, and each fault of the package and of its tables."""
    # the study of another is trusted here as far as our own tests made it
    with system.use_context(trusted=True):
        report = Package(path).validate()
    errors = [(task.name, error) for task in report.tasks for error in task.errors]
    told = [f"{name}: {error.message}" for name, error in errors]
    return {"tables": len(report.tasks), "faults": [*told, *(e.message for e in report.errors)]}


print(json.dumps({path: found(path) for path in sys.argv[1:]}))
