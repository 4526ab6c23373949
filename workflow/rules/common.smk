# What the rules share: the settings, where things lie, and what each stage is made from.
import os
import shlex
import sys
from dataclasses import replace
from pathlib import Path

from snakemake.exceptions import WorkflowError

from hilum import commit, freshness, manifest, settings
from hilum.alone import Busy
from hilum.study import SITE, STAGES, Study, seen_from

# the folder of this code; of a module that lies in a repository elsewhere, the folder of the installed one
BASE = (
    Path(workflow.current_basedir.get_path_or_uri(secret_free=True)).parents[1]
    if workflow.current_basedir.is_local
    else SITE.parent
)
# the steps run in the environment that snakemake itself runs in, activated or not
os.environ.update(PATH=os.pathsep.join([str(Path(sys.executable).parent), os.getenv("PATH", "")]))


def settled():
    """Return the settings: of config files and of words typed after --config, or those that a workflow gives its module."""
    if workflow.modifier.is_main_snakefile():
        given = workflow.config_settings
        return settings.merged(given.configfiles or [BASE / "config/config.yaml"], given.config)
    if workflow.modifier.skip_configfile:
        return settings.merged([], config, typed_in=f"config of module {__name__}")
    return settings.merged([BASE / "config/config.yaml"])


def placed(folder):
    """Return where a folder comes to lie: a module may be given a prefix."""
    return Path(str(workflow.modifier.modify_path(folder.as_posix())))


def code(*rooms):
    """Return the files whose edit must rerun a step: Snakemake does not watch imported modules."""
    found = (p for room in rooms for p in sorted(BASE.glob(room)) if p.is_file())
    return [p for p in found if p.suffix != ".pyc"]


def experiments():
    """Return how many experiments there are, so far as can be seen before the check."""
    try:
        return len(STUDY.experiments())
    except OSError:
        return 0


def megabytes(base, *, each=0, core=0):
    """Return how much memory to ask for, some of it for each experiment and some for each core."""
    return lambda wildcards, threads: base + each * EXPERIMENTS + core * threads


def minutes(base, *, each=0):
    """Return how many minutes to ask for; a part asks for as many as the whole, since parts may be dealt unevenly."""
    return base + each * EXPERIMENTS // 60


def made_by(stage, files, *words):
    """Note the contents of code, and words, whose change must rerun a stage and its parts, and return their hash."""
    parts = range(1, SETTINGS.parts + 1 if stage in ("fit", "report") else 1)
    names = (p.relative_to(BASE).as_posix() for p in files)
    made = manifest.digest(files, *names, *words)
    MADE_BY.update(dict.fromkeys([*(f"{stage}-{n}" for n in parts), stage], made))
    return made


def titled(wildcards):
    """Return whose chart or table it is: that of an experiment, of a lot, or of the study."""
    return getattr(wildcards, "whose", "study").removeprefix("_").replace("lots/", "lot ")


def shown():
    """Return what there is to show, marked for reports of snakemake."""
    marked = {
        STUDY.charts: report(
            str(STUDY.charts),
            patterns=["{whose}/{name}.svg"],
            category="Charts",
            subcategory=titled,
            labels={"chart": "{name}"},
            caption="report/chart.rst",
        ),
        STUDY.estimates: report(
            str(STUDY.estimates),
            patterns=["{whose}/{name}.csv", "{name,[^/]+}.csv"],
            category="Estimates",
            subcategory=titled,
            labels={"table": "{name}"},
            caption="report/table.rst",
        ),
    }
    return [mark for folder, mark in marked.items() if placed(folder).exists()]


# not `configfile:`, which would merge the demo's settings into the user's without a word
try:
    SETTINGS = settled()
    STUDY = Study(raw=SETTINGS.study, results=Path("results") / SETTINGS.study.name)
    PLACED = replace(STUDY, results=placed(STUDY.results))
except settings.SettingsFault as fault:
    raise WorkflowError(str(fault)) from None
# a step is told what it depends on and no more: snakemake reruns a rule whose words change
TOLD = SETTINGS.model_copy(update={"study": Path(seen_from(Path.cwd(), SETTINGS.study))})
WHERE = TOLD.model_dump_json(include={"study"})
CHOSEN = TOLD.model_dump_json(exclude={"parts"})
ALL = TOLD.model_dump_json()
STEP = "python -m hilum"
# in an environment that snakemake makes there are packages, and Hilum itself is here
if workflow.deployment_settings.deployment_method:
    HERE = shlex.quote(str(BASE / "workflow")).replace("{", "{{").replace("}", "}}")
    STEP = f"PYTHONPATH={HERE} {STEP}"
GIVEN = "--settings={params.settings:q} --results={params.results:q} --made-by={params.made_by}"
# a person sees at once what a step says, and finds it in its log later; tee outlives Ctrl-C, to hear the last of it
HEARD = "2>&1 | tee -i {log:q}"
# pictures and tables for `snakemake --report`; as inputs of no rule but `all`, since snakemake deletes the outputs of failed jobs
SHOWN = shown()
# What rules ask for is twice what benchmarks/ showed, and 5 times the time. On 2 cores check took 104 MB and 2 s, fit 208 MB and
# 11 s, report 528 MB and 33 s, publish 69 MB and 6 s of the demo's 10 experiments; 108 MB and 6 s, 216 MB and 63 s, 662 MB and
# 109 s, 79 MB and 14 s of 60 small ones (1 December 2026). The check of a million weighings, 19 MB, took 429 MB (make bench).
CORES = workflow.resource_settings.cores or 1
EXPERIMENTS = experiments()
RAW_MB = sum(path.stat().st_size for path in STUDY.raw_files()) // 2**20 if EXPERIMENTS else 0
# the report names the commit, so another commit of the same files is another report
COMMIT = [commit.of_code(), *commit.changed(), f"released: {commit.is_release()}"]
# what each stage is made from beside the manifests of those before it, in the order of the flow
MADE_BY = {}
