# checked tables -> estimates and what the charts draw, one folder per experiment
rule fit:
    input:
        STUDY.manifest("check"),
        code=code(
            "workflow/hilum/stats/**/*.py",
            "workflow/hilum/analyses/*.py",
            "workflow/hilum/analyses/*/*.py",
            "workflow/hilum/diagnosis/*.py",
            "workflow/hilum/steps/fit.py",
            "workflow/hilum/steps/diagnose.py",
            "workflow/hilum/steps/parallel.py",
            "workflow/hilum/steps/written.py",
        ),
    output:
        STUDY.manifest("fit"),
    threads: workflow.cores
    params:
        places=PLACES,
    shell:
        STEP
