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
    threads: workflow.cores
    params:
        places=PLACES,
        made_by=REPORTED_BY,
    shell:
        STEP


# a share of the experiments' charts and pages; report finds them done
rule report_part:
    input:
        STUDY.manifest("check"),
        STUDY.manifest("fit"),
    output:
        STUDY.manifest("report-{part}"),
    threads: workflow.cores
    params:
        stage="report",
        places=PLACES,
        made_by=REPORTED_BY,
    shell:
        PART
