REPORT_CODE = code(
    "workflow/hilum/*.py",
    "workflow/hilum/report/*",
    "workflow/hilum/tables/*.py",
    "workflow/hilum/analyses/*.py",
    "workflow/hilum/analyses/*/*",
    "workflow/hilum/steps/parallel.py",
    "workflow/hilum/steps/report.py",
    "site/**/*",
)


# checked tables and estimates -> charts and pages
rule report:
    input:
        STUDY.manifest("check"),
        STUDY.manifest("fit"),
        STUDY.parts("report", SETTINGS.parts),
        code=REPORT_CODE
        + code(
            "workflow/hilum/diagnosis/*.py",
            "workflow/hilum/seeds/*.py",
            "workflow/hilum/steps/*_page*.py",
            "workflow/hilum/steps/provenance.py",
            "CITATION.cff",
            "requirements.lock",
        ),
    output:
        STUDY.manifest("report"),
    threads: workflow.cores
    params:
        places=PLACES,
        # the provenance page names it, so another commit of the same files is another report
        commit=commit.of_code(),
        changed=commit.changed(),
        # and so does the citation on the methods page, once the commit has its tag
        released=commit.is_release(),
    shell:
        STEP


# a share of the experiments' charts and pages; report finds them done
rule report_part:
    input:
        STUDY.manifest("check"),
        STUDY.manifest("fit"),
        code=REPORT_CODE,
    output:
        STUDY.manifest("report-{part}"),
    threads: workflow.cores
    params:
        stage="report",
        places=PLACES,
    shell:
        PART
