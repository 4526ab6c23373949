# Start and stop Slurm on one host, as an ordinary cluster in small: source this file, call start_slurm, later stop_slurm.
# Needs Debian's slurm-wlm and munge, and root on a host that is of no cluster yet (a container). All that they write lies
# below $SLURM_FOLDER; the executor of Snakemake hides SLURM_CONF from its jobs, so a link stands where they look.

SLURM_LINK=/etc/slurm/slurm.conf

start_slurm() {
    if [ -e "$SLURM_LINK" ]; then
        echo "$SLURM_LINK is there: this host is of a cluster already; use its own" >&2
        return 1
    fi
    SLURM_FOLDER=$(mktemp -d)
    export SLURM_FOLDER
    chmod 0755 "$SLURM_FOLDER"
    mkdir "$SLURM_FOLDER/state" "$SLURM_FOLDER/spool"
    /usr/sbin/mungekey --create --keyfile "$SLURM_FOLDER/munge.key"
    # a folder below /tmp is more open than a daemon of a real cluster would take
    /usr/sbin/munged --force --key-file "$SLURM_FOLDER/munge.key" --socket "$SLURM_FOLDER/munge.socket" \
        --pid-file "$SLURM_FOLDER/munged.pid" --log-file "$SLURM_FOLDER/munged.log" \
        --seed-file "$SLURM_FOLDER/munge.seed" 2>"$SLURM_FOLDER/munged.err"
    _slurm_conf >"$SLURM_FOLDER/slurm.conf"
    mkdir -p "$(dirname "$SLURM_LINK")"
    ln -s "$SLURM_FOLDER/slurm.conf" "$SLURM_LINK"
    /usr/sbin/slurmctld -c
    /usr/sbin/slurmd
    for _ in $(seq 60); do
        [ "$(sinfo --noheader --format %t 2>/dev/null)" = idle ] && return 0
        sleep 0.5
    done
    echo "Slurm did not start; its logs lie in $SLURM_FOLDER" >&2
    return 1
}

stop_slurm() {
    scancel --user "$(id -un)" || true
    rm -f "$SLURM_LINK"
    for daemon in slurmd slurmctld munged; do
        [ -f "$SLURM_FOLDER/$daemon.pid" ] && kill "$(cat "$SLURM_FOLDER/$daemon.pid")" || true
    done
}

_slurm_conf() {
    local host memory
    host=$(hostname -s)
    memory=$(awk '/MemTotal/ {print int($2 / 1200)}' /proc/meminfo)
    cat <<CONF
ClusterName=small
SlurmctldHost=$host(127.0.0.1)
SlurmUser=$(id -un)
SlurmdUser=$(id -un)
AuthType=auth/munge
AuthInfo=socket=$SLURM_FOLDER/munge.socket
StateSaveLocation=$SLURM_FOLDER/state
SlurmdSpoolDir=$SLURM_FOLDER/spool
SlurmctldPidFile=$SLURM_FOLDER/slurmctld.pid
SlurmdPidFile=$SLURM_FOLDER/slurmd.pid
SlurmctldLogFile=$SLURM_FOLDER/slurmctld.log
SlurmdLogFile=$SLURM_FOLDER/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core_Memory
MpiDefault=none
ReturnToService=2
NodeName=$host NodeAddr=127.0.0.1 CPUs=$(nproc) RealMemory=$memory State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
CONF
}
