# everything of a run -> a folder and a zip that can be cited, repeated and verified; asked for by itself
rule crate:
    input:
        [STUDY.manifest(stage) for stage in STAGES],
        near([CONFIG, *STUDY.raw_files()]),
        code=code(
            "workflow/hilum/**/*",
            "workflow/rules/*",
            "workflow/snakemake_logger_plugin_hilum/*",
            "site/**/*",
            "profiles/**/*",
            "config/**/*",
            "*.md",
            "*.lock",
            "CITATION.cff",
            "Containerfile",
            "LICENSE",
            "Makefile",
            "Snakefile",
            "environment.yml",
            "pyproject.toml",
        ),
    output:
        STUDY.manifest("crate"),
    params:
        places=PLACES,
        commit=commit.of_code(),
        changed=commit.changed(),
        released=commit.is_release(),
    shell:
        STEP
