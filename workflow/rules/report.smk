REPORTED_BY = made_by(
    "report",
    code(
        "workflow/hilum/*.py",
        "workflow/hilum/report/*",
        "workflow/hilum/tables/*.py",
        "workflow/hilum/analyses/*.py",
        "workflow/hilum/analyses/*/*",
        "workflow/hilum/diagnosis/*.py",
        "workflow/hilum/seeds/*.py",
        "workflow/hilum/steps/*_page*.py",
        "workflow/hilum/steps/parallel.py",
        "workflow/hilum/steps/provenance.py",
        "workflow/hilum/steps/report.py",
        "site/**/*",
        "CITATION.cff",
        "requirements.lock",
    ),
    SETTINGS.chosen(),
    *COMMIT,
)


# checked tables and estimates -> charts and pages
rule report:
    input:
        STUDY.manifest("check"),
        STUDY.manifest("fit"),
        STUDY.parts("report", SETTINGS.parts),
    output:
        STUDY.manifest("report"),
    log:
        STUDY.log("report"),
    benchmark:
        STUDY.benchmark("report")
    conda:
        "../envs/hilum.yaml"
    threads: CORES
    resources:
        mem_mb=megabytes(250 + 35 * RAW_MB, each=6, core=450),
        runtime=minutes(5, each=17),
    params:
        settings=CHOSEN,
        results=PLACED.results,
        made_by=REPORTED_BY,
    shell:
        f"{STEP} report {GIVEN} {HEARD}"


# a share of the experiments' charts and pages; report finds them done
rule report_part:
    input:
        STUDY.manifest("check"),
        STUDY.manifest("fit"),
    output:
        STUDY.manifest("report-{part}"),
    log:
        STUDY.log("report-{part}"),
    benchmark:
        STUDY.benchmark("report-{part}")
    conda:
        "../envs/hilum.yaml"
    threads: CORES
    resources:
        mem_mb=megabytes(250 + 35 * RAW_MB, each=6, core=450),
        runtime=minutes(5, each=17),
    params:
        settings=ALL,
        results=PLACED.results,
        made_by=REPORTED_BY,
    shell:
        f"{STEP} report {GIVEN} --part {{wildcards.part}} {HEARD}"
