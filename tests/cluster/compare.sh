#!/usr/bin/env bash
# Run the demo on this host alone and again through Slurm, and say whether the bytes are the same.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/cluster/host.sh

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

echo "The demo on this host alone:"
(cd "$work/alone" && PYTHONPATH=$PWD/workflow snakemake --cores all --configfile "$config")

start_slurm
trap stop_slurm EXIT
echo "The demo through Slurm:"
(cd "$work/cluster" && PYTHONPATH=$PWD/workflow snakemake --workflow-profile profiles/slurm --configfile "$config")
echo "Jobs that Slurm ran:"
grep -o 'sched: .*JobId=[0-9]*' "$SLURM_FOLDER/slurmctld.log" | sort -u | wc -l

diff --recursive --exclude '.lock*' "$work/alone/results" "$work/cluster/results"
echo "The results are the same, byte for byte."
