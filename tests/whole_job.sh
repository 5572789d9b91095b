#!/usr/bin/env bash
# The whole job in a real window, on a display and a session bus of its own; real_window/whole_job.py says what is done and looked at.
# Pictures of every stage are left in OUT.
# usage: whole_job.sh PROGRAM PHOTOS OUT [SCRIPT]
set -euo pipefail
program=$(realpath "$1") photos=$(realpath "$2") script=${4:-whole_job}
mkdir -p "$3"
out=$(realpath "$3")
scripts=$(dirname "$(realpath "$0")")/real_window
for what in CONFIG STATE CACHE DATA; do
  export "PLATEBENCH_${what}_DIR=$out/user/$what"
done
mkdir -p -m 700 "$out/run"
exec 3>"$out/display"
Xvfb -displayfd 3 -screen 0 "${SCREEN:-1280x800}x24" -nolisten tcp >/dev/null 2>&1 3>&3 &
server=$!
trap 'kill $server 2>/dev/null || true' EXIT
exec 3>&-
for _ in $(seq 50); do
  [ -s "$out/display" ] && break
  sleep 0.2
done
export DISPLAY=:$(cat "$out/display") XDG_RUNTIME_DIR=$out/run PYTHONDONTWRITEBYTECODE=1
# The system's own Python: the one that the distribution's D-Bus bindings are for.
python=/usr/bin/python3
[ -x $python ] || python=python3
dbus-run-session -- "$python" "$scripts/$script.py" "$program" "$photos" "$out"
