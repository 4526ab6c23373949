# raw tables -> checked tables, or every fault of the study as a sentence in check.txt
rule check:
    input:
        near([CONFIG, *STUDY.raw_files()]),
        code=code(
            "workflow/hilum/*.py",
            "workflow/hilum/tables/*.py",
            "workflow/hilum/analyses/*.py",
            "workflow/hilum/analyses/*/__init__.py",
            "workflow/hilum/analyses/*/tables.py",
            "workflow/hilum/steps/check.py",
        ),
    output:
        STUDY.manifest("check"),
    log:
        STUDY.check_log,
    params:
        places=PLACES,
    shell:
        STEP
