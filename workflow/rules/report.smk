# checked tables and estimates -> charts and pages
rule report:
    input:
        STUDY.manifest("check"),
        STUDY.manifest("fit"),
        code=code(
            "workflow/hilum/report/*",
            "workflow/hilum/analyses/*/*",
            "workflow/hilum/steps/report.py",
            "site/**/*",
        ),
    output:
        STUDY.manifest("report"),
    params:
        places=PLACES,
    shell:
        STEP
