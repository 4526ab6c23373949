# checked tables and estimates -> charts and pages
rule report:
    input:
        STUDY.manifest("check"),
        STUDY.manifest("fit"),
        code=code(
            "workflow/hilum/*.py",
            "workflow/hilum/report/*",
            "workflow/hilum/tables/*.py",
            "workflow/hilum/diagnosis/*.py",
            "workflow/hilum/seeds/*.py",
            "workflow/hilum/analyses/*.py",
            "workflow/hilum/analyses/*/*",
            "workflow/hilum/steps/report.py",
            "site/**/*",
            "CITATION.cff",
        ),
    output:
        STUDY.manifest("report"),
    params:
        places=PLACES,
        # the provenance page names it, so another commit of the same files is another report
        commit=commit.of_code(),
        # and so does the citation on the methods page, once the commit has its tag
        released=commit.is_release(),
    shell:
        STEP
