# `snakemake` in this folder starts here; the workflow itself is one folder down.
include: "workflow/Snakefile"


# of what is included snakemake takes no rule for the one to begin with
rule default:
    input:
        rules.all.input,
