FITTED_BY = made_by(
    "fit",
    code(
        "workflow/hilum/stats/**/*.py",
        "workflow/hilum/analyses/*.py",
        "workflow/hilum/analyses/*/*.py",
        "workflow/hilum/diagnosis/*.py",
        "workflow/hilum/steps/diagnose.py",
        "workflow/hilum/steps/fit.py",
        "workflow/hilum/steps/lot_sheet.py",
        "workflow/hilum/steps/parallel.py",
        "workflow/hilum/steps/written.py",
    ),
    SETTINGS.chosen(),
)


# checked tables -> estimates and what the charts draw, one folder per experiment
rule fit:
    input:
        STUDY.manifest("check"),
        STUDY.parts("fit", SETTINGS.parts),
    output:
        STUDY.manifest("fit"),
    log:
        STUDY.log("fit"),
    benchmark:
        STUDY.benchmark("fit")
    conda:
        "../envs/hilum.yaml"
    threads: CORES
    resources:
        mem_mb=megabytes(200 + 35 * RAW_MB, each=1, core=150),
        runtime=minutes(5, each=6),
    params:
        settings=CHOSEN,
        results=PLACED.results,
        made_by=FITTED_BY,
    shell:
        f"{STEP} fit {GIVEN} {HEARD}"


# a share of the experiments, so that a cluster can take each share; fit finds them done
rule fit_part:
    input:
        STUDY.manifest("check"),
    output:
        STUDY.manifest("fit-{part}"),
    log:
        STUDY.log("fit-{part}"),
    benchmark:
        STUDY.benchmark("fit-{part}")
    conda:
        "../envs/hilum.yaml"
    threads: CORES
    resources:
        mem_mb=megabytes(200 + 35 * RAW_MB, each=1, core=150),
        runtime=minutes(5, each=6),
    params:
        settings=ALL,
        results=PLACED.results,
        made_by=FITTED_BY,
    shell:
        f"{STEP} fit {GIVEN} --part {{wildcards.part}} {HEARD}"
