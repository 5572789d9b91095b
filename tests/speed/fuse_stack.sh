#!/bin/sh
# How long a stack of files takes to become a plate, stage by stage, with the processor time and the memory of the whole process.
#
# usage: tests/speed/fuse_stack.sh PROGRAM OUT.tif FRAME...
#
# Prints the seconds of every stage as `fuse --json` gives them, then wall, user and system seconds and the peak memory. Compare ratios
# of runs made one after the other on the same machine, never seconds of different days.
set -eu
program=$1 out=$2
shift 2
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
for what in CONFIG STATE CACHE DATA; do
    export "PLATEBENCH_${what}_DIR=$home/$what"
done
/usr/bin/time -f 'whole process: %e s wall, %U s user, %S s system, %M KiB at most' \
    "$program" fuse "$@" -o "$out" --json --quiet --progress never >"$home/answer.json"
sed -n '/"seconds"/,/}/p' "$home/answer.json"
