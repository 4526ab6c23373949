CHECKED_BY = made_by(
    "check",
    code(
        "workflow/hilum/*.py",
        "workflow/hilum/tables/*.py",
        "workflow/hilum/tables/doubts/*.py",
        "workflow/hilum/analyses/*.py",
        "workflow/hilum/analyses/*/__init__.py",
        "workflow/hilum/analyses/*/tables.py",
        "workflow/hilum/steps/check.py",
    ),
)


# raw tables -> checked tables, or every fault of the study as a sentence in check.txt
rule check:
    output:
        STUDY.manifest("check"),
    log:
        STUDY.log("check"),
    benchmark:
        STUDY.benchmark("check")
    conda:
        "../envs/hilum.yaml"
    resources:
        mem_mb=megabytes(200 + 35 * RAW_MB),
        runtime=minutes(5, each=1),
    params:
        settings=WHERE,
        results=PLACED.results,
        made_by=CHECKED_BY,
    shell:
        f"{STEP} check {GIVEN} {HEARD}"
