#!/usr/bin/env bash
# Run the demo and a slice of the calibration on this host alone and again through Slurm, and say whether the bytes are
# the same. `make cluster` calls it.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/cluster/host.sh

# Snakemake's executor for Slurm writes the path of Python into its job scripts without quotes
case $PWD in *[[:space:]]*)
    echo "Through Slurm a checkout lies in a path without spaces; this one is $PWD. All else runs here as well." >&2
    exit 1
    ;;
esac

work=$(mktemp -d)
config=$work/config.yaml
printf 'study: %s\nparts: 2\n' "$PWD/data/strandline" >"$config"

# each run in a copy of its own, as on two machines
copy() {
    mkdir "$1"
    git ls-files -z | xargs -0 cp --parents -t "$1"
}
copy "$work/alone"
copy "$work/cluster"
export PYTHONDONTWRITEBYTECODE=1

slice=(--snakefile tests/calibration/Snakefile --config studies=4 "designs=float test" folder=results/calibration)

echo "On this host alone:"
(
    cd "$work/alone"
    export PYTHONPATH=$PWD/workflow:$PWD
    snakemake --cores all --configfile "$config"
    snakemake --cores all "${slice[@]}"
)

start_slurm
trap stop_slurm EXIT
echo "Through Slurm:"
(
    cd "$work/cluster"
    export PYTHONPATH=$PWD/workflow:$PWD
    snakemake --workflow-profile profiles/slurm --configfile "$config"
    snakemake --workflow-profile profiles/slurm "${slice[@]}"
)
echo "Jobs that Slurm ran:"
grep -o 'sched: .*JobId=[0-9]*' "$SLURM_FOLDER/slurmctld.log" | sort -u | wc -l

diff --recursive --exclude '.lock*' --exclude benchmarks --exclude logs "$work/alone/results" "$work/cluster/results"
echo "The results are the same, byte for byte."
