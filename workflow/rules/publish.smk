PUBLISHED_BY = made_by(
    "publish",
    code(
        "site/**/*",
        "workflow/hilum/steps/publish.py",
        "workflow/hilum/steps/aside.py",
        "workflow/hilum/steps/search.py",
    ),
)


# pages and charts -> the site, which opens from a disk
rule publish:
    input:
        STUDY.manifest("report"),
    output:
        STUDY.manifest("publish"),
    log:
        STUDY.log("publish"),
    benchmark:
        STUDY.benchmark("publish")
    conda:
        "../envs/hilum.yaml"
    resources:
        mem_mb=megabytes(150, each=1),
        runtime=minutes(5, each=3),
    params:
        settings=WHERE,
        results=PLACED.results,
        made_by=PUBLISHED_BY,
    shell:
        f"{STEP} publish {GIVEN} {HEARD}"
