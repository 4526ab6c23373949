"""The crate's own description: RO-Crate 1.1 with the Workflow Run Crate profile, as plain JSON-LD."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from hilum.crate import layout
from hilum.crate.layout import Run
from hilum.settings import Settings

Entity = dict[str, Any]
_PROFILES = {
    "https://w3id.org/ro/wfrun/process/0.5": ("Process Run Crate", "0.5"),
    "https://w3id.org/ro/wfrun/workflow/0.5": ("Workflow Run Crate", "0.5"),
    "https://w3id.org/workflowhub/workflow-ro-crate/1.0": ("Workflow RO-Crate", "1.0"),
}
_LANGUAGE = "https://w3id.org/workflowhub/workflow-ro-crate#snakemake"
_TYPES = {"csv": "text/csv", "json": "application/json", "md": "text/markdown"}
# what lies beside the tables, and what it is
DOCUMENTS = {
    layout.README: "What is in this crate, and the commands that repeat and verify it",
    layout.CONFIG: "The settings of this run, each spelled out",
    layout.RUN: "Code, packages and settings of this run, for programs",
    layout.CITATION: "How to cite the software that made this",
    layout.SOURCES: "BibTeX entries of the software and of the sources of its methods",
    layout.METHODS: "The methods as they were carried out",
    layout.PACKAGE: "The tables of this crate, described column by column (Data Package)",
    layout.SUMS: "SHA-256 of every other file",
    layout.LOCK: "Every package of the run, by version and hash",
}
REPORT = f"{layout.REPORT}/index.html"


def identifier(path: str) -> str:
    """Return the path of a file or folder of the crate as JSON-LD names it."""
    return quote(path, safe="/")


def _ref(name: str) -> Entity:
    return {"@id": name}


def graph(
    run: Run,
    *,
    title: str,
    published: str,
    licence: str,
    people: Sequence[str],
    raw: Sequence[str],
    checked: Sequence[str],
    estimates: Sequence[str],
) -> Entity:
    """Return the whole metadata; `raw`, `checked` and `estimates` are the paths of files in the crate."""
    files = [*raw, *checked, *estimates, *DOCUMENTS]
    study = f"{layout.DATA}/{run.study}/"
    folders = {
        study: "The raw tables, as they were typed",
        f"{layout.ESTIMATES}/": "Every estimate with its interval, and what the charts draw",
        f"{layout.REPORT}/": f"The report: open {REPORT}; it needs no network",
        f"{layout.CODE}/": "The code of the run, with its lock: `make site` repeats the run",
    }
    root = {
        "@id": "./",
        "@type": "Dataset",
        "name": title,
        "description": _description(run),
        "datePublished": published,
        "license": licence,
        "conformsTo": [_ref(p) for p in _PROFILES],
        "mainEntity": _ref(layout.WORKFLOW),
        "mentions": [_ref("#run")],
        "hasPart": [_ref(identifier(p)) for p in (*folders, layout.WORKFLOW, *files)],
    }
    if people:
        root["author"] = [_ref(f"#person-{i}") for i in range(1, len(people) + 1)]
    return {
        "@context": "https://w3id.org/ro/crate/1.1/context",
        "@graph": [
            _itself(),
            root,
            *_profiles(),
            *_people(people),
            *_workflow(run),
            *_parameters(run, study),
            _action(run, study, raw),
            *({"@id": identifier(p), "@type": "Dataset", "name": n} for p, n in folders.items()),
            *(_file(p) for p in files),
        ],
    }


def _description(run: Run) -> str:
    ends = (
        f" The raw tables end on {run.ends}; the date given here is that day." if run.ends else ""
    )
    return (
        f"Raw tables of a study of seed dormancy, what Hilum {run.hilum} estimated from them, the report, "
        f"the code and its lock.{ends}"
    )


def _itself() -> Entity:
    names = ("https://w3id.org/ro/crate/1.1", "https://w3id.org/workflowhub/workflow-ro-crate/1.0")
    return {
        "@id": layout.METADATA,
        "@type": "CreativeWork",
        "about": _ref("./"),
        "conformsTo": [_ref(name) for name in names],
    }


def _profiles() -> list[Entity]:
    return [
        {"@id": p, "@type": "CreativeWork", "name": name, "version": version}
        for p, (name, version) in _PROFILES.items()
    ]


def _people(people: Sequence[str]) -> list[Entity]:
    return [
        {"@id": f"#person-{i}", "@type": "Person", "name": name}
        for i, name in enumerate(people, start=1)
    ]


def _workflow(run: Run) -> list[Entity]:
    inputs = ["#study", *(f"#setting-{name}" for name in run.settings)]
    state = f"; commit {run.commit}" if run.commit else ""
    return [
        {
            "@id": layout.WORKFLOW,
            "@type": ["File", "SoftwareSourceCode", "ComputationalWorkflow"],
            "name": "Hilum",
            "description": f"Raw tables are checked, fitted and told{state}",
            "version": run.hilum,
            "license": "MIT",
            "programmingLanguage": _ref(_LANGUAGE),
            "input": [_ref(name) for name in inputs],
            "output": [_ref("#estimates"), _ref("#report")],
            "softwareRequirements": _ref("#python"),
        },
        {
            "@id": _LANGUAGE,
            "@type": "ComputerLanguage",
            "name": "Snakemake",
            "version": run.packages.get("snakemake", ""),
            "url": {"@id": "https://snakemake.github.io"},
        },
        {
            "@id": "#python",
            "@type": "SoftwareApplication",
            "name": "Python",
            "softwareVersion": run.python,
        },
    ]


def _parameter(name: str, kind: str, example: str, says: str, **more: object) -> Entity:
    return {
        "@id": f"#{name}",
        "@type": "FormalParameter",
        "additionalType": kind,
        "name": name.removeprefix("setting-"),
        "description": says,
        "workExample": _ref(example),
        **more,
    }


def _parameters(run: Run, study: str) -> list[Entity]:
    """Return what the workflow takes and gives, and the values of this run."""
    about = {n: f.description or "" for n, f in Settings.model_fields.items()}
    made = [
        _parameter("study", "Dataset", identifier(study), about["study"], valueRequired=True),
        _parameter("estimates", "Dataset", f"{layout.ESTIMATES}/", "Tables of estimates"),
        _parameter("report", "Dataset", f"{layout.REPORT}/", "The report"),
    ]
    for name, value in run.settings.items():
        says = about.get(name, "")
        made.append(_parameter(f"setting-{name}", _kind(value), f"#value-{name}", says))
        made.append(
            {
                "@id": f"#value-{name}",
                "@type": "PropertyValue",
                "name": name,
                "value": str(value),
                "exampleOfWork": _ref(f"#setting-{name}"),
            }
        )
    return made


def _kind(value: object) -> str:
    kinds: Mapping[type, str] = {float: "Float", int: "Integer", bool: "Boolean"}
    return kinds.get(type(value), "Text")


def _action(run: Run, study: str, raw: Sequence[str]) -> Entity:
    values = (f"#value-{name}" for name in run.settings)
    used = (identifier(study), *map(identifier, raw), layout.CONFIG, layout.LOCK, *values)
    return {
        "@id": "#run",
        "@type": "CreateAction",
        "name": f"Run of Hilum {run.hilum}",
        "description": "make site CONFIG=../config.yaml, in the folder code",
        "instrument": _ref(layout.WORKFLOW),
        "object": [_ref(name) for name in used],
        "result": [_ref(f"{layout.ESTIMATES}/"), _ref(f"{layout.REPORT}/")],
        "actionStatus": _ref("http://schema.org/CompletedActionStatus"),
    }


def _file(path: str) -> Entity:
    end = path.rsplit(".", 1)[-1]
    made: Entity = {"@id": identifier(path), "@type": "File", "name": DOCUMENTS.get(path, path)}
    if end in _TYPES:
        made["encodingFormat"] = _TYPES[end]
    return made
