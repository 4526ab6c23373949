PACKED_BY = made_by(
    "crate",
    code(
        "workflow/hilum/**/*",
        "workflow/Snakefile",
        "workflow/envs/*",
        "workflow/report/*",
        "workflow/rules/*",
        "workflow/schemas/*",
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
    SETTINGS.model_dump_json(exclude={"study"}),
    *COMMIT,
)


# everything of a run -> a folder and a zip that can be cited, repeated and verified; asked for by itself
rule crate:
    input:
        [STUDY.manifest(stage) for stage in STAGES],
    output:
        STUDY.manifest("crate"),
    log:
        STUDY.log("crate"),
    benchmark:
        STUDY.benchmark("crate")
    conda:
        "../envs/hilum.yaml"
    resources:
        mem_mb=megabytes(150, each=1),
        runtime=minutes(5, each=1),
    params:
        settings=ALL,
        results=PLACED.results,
        made_by=PACKED_BY,
    shell:
        f"{STEP} crate {GIVEN} {HEARD}"
