# pages and charts -> the site, which opens from a disk
rule publish:
    input:
        STUDY.manifest("report"),
        code=code(
            "site/**/*",
            "workflow/hilum/steps/publish.py",
            "workflow/hilum/steps/aside.py",
            "workflow/hilum/steps/search.py",
        ),
    output:
        STUDY.manifest("publish"),
    params:
        places=PLACES,
    shell:
        STEP
