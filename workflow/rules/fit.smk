FIT_CODE = code(
    "workflow/hilum/stats/**/*.py",
    "workflow/hilum/analyses/*.py",
    "workflow/hilum/analyses/*/*.py",
    "workflow/hilum/steps/fit.py",
    "workflow/hilum/steps/parallel.py",
    "workflow/hilum/steps/written.py",
)


# checked tables -> estimates and what the charts draw, one folder per experiment
rule fit:
    input:
        STUDY.manifest("check"),
        STUDY.parts("fit", SETTINGS.parts),
        code=FIT_CODE
        + code(
            "workflow/hilum/diagnosis/*.py",
            "workflow/hilum/steps/diagnose.py",
            "workflow/hilum/steps/lot_sheet.py",
        ),
    output:
        STUDY.manifest("fit"),
    threads: workflow.cores
    params:
        places=PLACES,
    shell:
        STEP


# a share of the experiments, so that a cluster can take each share; fit finds them done
rule fit_part:
    input:
        STUDY.manifest("check"),
        code=FIT_CODE,
    output:
        STUDY.manifest("fit-{part}"),
    threads: workflow.cores
    params:
        stage="fit",
        places=PLACES,
    shell:
        PART
