"""Write the pages that are made from the code: `python -m tests.docs`. A test holds them to it."""

import re
from pathlib import Path

import yaml

from hilum import analyses, settings
from hilum.plan.asked.design import PARTS
from hilum.tables import TABLES, dictionary
from hilum.tables.column import Table

REPOSITORY = Path(__file__).parent.parent

CONFIG = """\
# The settings of one run

`config.yaml` here builds the demo. A config file of your own can lie anywhere: `make site CONFIG=path/to/config.yaml`. Paths in it
are relative to the file itself. It needs one key, `study`; every other key has a default. A key that is not listed here is refused.
`workflow/schemas/config.schema.yaml` says the same to editors.

For those who use Snakemake itself: `snakemake --cores all --config study=path/to/study confidence=0.9` names keys without a file, or before those of
`--configfile`; of several files the last that names a key decides. A study named by a file is found from that file, one typed after `--config` from the folder
in which the run works (`--directory`). A workflow of your own takes Hilum as a module, under a prefix as well, and twice for two studies:

    module hilum:
        snakefile: "path/to/hilum/workflow/Snakefile"
        config: config["hilum"]        # study: from the folder in which the run works

    use rule * from hilum as hilum_*

    rule mine:
        input: rules.hilum_fit.output  # the manifest; the estimates lie at ../estimates beside it
        …

This needs Hilum in the environment that snakemake runs in (`make site` once, then `.venv/bin/snakemake`). What does not work: an estimates file is
no output of a rule, so a rule of yours names a manifest as its input and reads the file beside it; and a study's results must lie on this file system.

{settings}

# A plan

`plan.yaml` here plans a study of the demo's invented seed. `make plan PLAN=path/to/plan.yaml` works a plan out before the first seed is wet:
which causes of failure its dishes could tell apart, how narrow intervals would be, and what to add. `make sheets PLAN=path/to/plan.yaml INTO=path/to/folder` writes its
tables, ready to be filled in, with its dishes drawn to the places of `room`, and sheets to print; `site/templates/first-plan.yaml` is a short plan. A key
that is not listed here is refused. Guesses that are missing are asked for on the page.
{plan}
"""

DATA = """\
# Raw tables

A study is one folder. `lots.csv` and `treatments.csv` lie in it, `chamber_log.csv`, `temperature_courses.csv`, `reference_traits.csv`
and `moisture.csv` may. Each experiment is a folder below it with an `experiment.yaml` and the tables that it has. Hilum reads these files and never writes them. `strandline/` here is
the demo, invented from end to end and drawn anew by `python -m tests.demo.draw`.

CSV in UTF-8, commas between cells, a dot for decimals, dates as 2024-05-31, times of day as 2024-05-31T09:30 (with an offset, or with
`time_zone` in `experiment.yaml`). An empty cell is a missing value; a lot called NA is a lot called NA. Columns that are not needed may be left out.

`experiment.yaml` needs `title` and `analyses` (a list of {analyses}). It may hold `question`, `person`, `dates`, `source`, `licence`,
`germination_criterion` (radicle or normal_seedling), `time_zone`, `balance_readability_mg` and `known_faults`.

**A fault that you accept** stands in `experiment.yaml`, with its reason; the raw table stays as it is, and the report shows it:

    known_faults:
      - table: counts
        row: {{dish: t15-b, elapsed_d: '9', germinated: '72'}}   # cells as typed; they must match exactly one row
        use: {{germinated: '7'}}                                  # or `leave_out: yes`
        why: The bench sheet says 7.

Leaving out a count leaves out its dish, since a missing count would bias the others.

**Rows to be filled in later** may stand in the tables from the start, as `make sheets` writes them: an inspection, weighing, viability test,
moisture determination or the fates of a dish, with what is planned given and all that is measured empty. Where such rows come last for their
dish or seed they are left out, with a remark in `check-notes.txt`, so that a half-filled study already gives a report; the remark names
dishes that were seen for less long than others sown with them. An empty row that stands above or before a filled one of the same dish or seed
is a fault, with file and line: a missing count would bias the others. The fates of a dish are given all or none (0 where there were none).
A dish none of whose rows is filled is left out, and an analysis that has no row yet waits.
{tables}"""


def _table(table: Table) -> str:
    rows = [
        f"| `{r['column']}` | {r['description']} | {r['unit']} | {r['needed']} | {r['allowed']} | {r['example']} |"
        for r in dictionary.rows(table)
    ]
    head = "| column | what it holds | unit | needed | allowed | example |\n| --- | --- | --- | --- | --- | --- |"
    return f"\n## {table.name}.csv\n\nOne row is {table.one_row_is}.\n\n" + "\n".join([head, *rows])


def _plan() -> str:
    parts = (f"\n## {title}\n\n{settings.as_table(part)}" for title, part in PARTS.items())
    return "\n".join(parts)


SCHEMA = """\
# What a config file may hold, for editors and for workflows that take Hilum as a module. Made from hilum/settings.py by
# `python -m tests.docs`; a run says what is wrong in the sentences of that file.
$schema: https://json-schema.org/draft/2020-12/schema
"""

ENVIRONMENT = """\
# Packages of a step where snakemake makes environments itself (--sdm conda): the versions of requirements.lock, without its hashes.
# Made by `python -m tests.docs`.
"""


def _schema() -> str:
    made = settings.Settings.model_json_schema()
    made["title"] = "Settings of one run of Hilum"
    for one in made["properties"].values():
        del one["title"]
    return SCHEMA + yaml.safe_dump(made, sort_keys=False, allow_unicode=True, width=120)


def _environment() -> str:
    lock = (REPOSITORY / "requirements.lock").read_text(encoding="utf-8")
    pins = [line.strip() for line in re.findall(r"^\S.*(?= \\$)", lock, re.MULTILINE)]
    made = {
        "channels": ["conda-forge", "nodefaults"],
        "dependencies": ["python=3.11", "pip", {"pip": pins}],
    }
    return ENVIRONMENT + yaml.safe_dump(made, sort_keys=False, width=1000)


def pages() -> dict[Path, str]:
    """Return the text of each page that is made from the code."""
    tables = "\n".join(_table(table) for table in TABLES.values())
    named = ", ".join(f"`{name}`" for name in analyses.names())
    return {
        REPOSITORY / "config/README.md": CONFIG.format(settings=settings.as_table(), plan=_plan()),
        REPOSITORY / "workflow/schemas/config.schema.yaml": _schema(),
        REPOSITORY / "workflow/envs/hilum.yaml": _environment(),
        REPOSITORY / "data/README.md": DATA.format(analyses=named, tables=tables) + "\n",
    }


if __name__ == "__main__":
    for path, text in pages().items():
        path.write_text(text, encoding="utf-8")
