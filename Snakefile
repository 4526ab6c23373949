# Table of contents. The flow: data/<study> -> checked -> estimates -> charts, pages -> site (-> crate, asked for by itself).
# Each rule writes one manifest, the hashes of what it made; steps are workflow/hilum/steps/<rule>.py.
import os
import sys
from pathlib import Path

from snakemake.exceptions import WorkflowError

from hilum import commit, freshness, manifest, settings
from hilum.alone import Busy
from hilum.study import STAGES, Study, seen_from

BASE = Path(workflow.basedir)
# not `configfile:`, which would merge the demo's settings into the user's without a word
CONFIG = Path(
    workflow.overwrite_configfiles[-1]
    if workflow.overwrite_configfiles
    else BASE / "config/config.yaml"
)
# the steps run in the environment that snakemake itself runs in, activated or not
os.environ["PATH"] = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])

try:
    SETTINGS = settings.load(CONFIG)
    STUDY = Study(raw=SETTINGS.study, results=Path("results") / SETTINGS.study.name)
except settings.SettingsFault as fault:
    raise WorkflowError(str(fault)) from None
PLACES = {"config": seen_from(Path.cwd(), CONFIG), "results": str(STUDY.results)}
PLACED = "--config={params.places[config]:q} --results={params.places[results]:q} --made-by={params.made_by}"
STEP = "python -m hilum {rule} " + PLACED
PART = "python -m hilum {params.stage} " + PLACED + " --part {wildcards.part}"
# the report names the commit, so another commit of the same files is another report
COMMIT = [commit.of_code(), *commit.changed(), f"released: {commit.is_release()}"]
# what each stage is made from beside the manifests of those before it, in the order of the flow
MADE_BY = {}


def code(*rooms):
    """Return the files whose edit must rerun a step: Snakemake does not watch imported modules."""
    found = (p for room in rooms for p in sorted(BASE.glob(room)) if p.is_file())
    return [p for p in found if p.suffix != ".pyc"]


def made_by(stage, files, *words):
    """Note the contents of code, and words, whose change must rerun a stage and its parts, and return their hash."""
    parts = range(1, SETTINGS.parts + 1 if stage in ("fit", "report") else 1)
    names = (p.relative_to(BASE).as_posix() for p in files)
    made = manifest.digest(files, *names, *words)
    MADE_BY.update(dict.fromkeys([*(f"{stage}-{n}" for n in parts), stage], made))
    return made


# every stage is asked for, so that a failed or deleted one is never taken for done
rule all:
    input:
        [STUDY.manifest(stage) for stage in STAGES],


include: "workflow/rules/check.smk"
include: "workflow/rules/fit.smk"
include: "workflow/rules/report.smk"
include: "workflow/rules/publish.smk"
include: "workflow/rules/crate.smk"


# dates of tables and code decide nothing, contents do; a job on another machine leaves that to the run that sent it
if workflow.is_main_process:
    try:
        freshness.settle(STUDY, MADE_BY)
    except Busy as fault:
        raise WorkflowError(str(fault)) from None
