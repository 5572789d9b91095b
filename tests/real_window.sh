#!/usr/bin/env bash
# Opens the program in a real window on a display of its own, looks whether something is drawn, and closes it by its key.
# usage: real_window.sh PROGRAM PROJECT FOLDER
set -euo pipefail
program=$1 project=$2 folder=$3
display=:$((70 + RANDOM % 20))
Xvfb $display -screen 0 1280x800x24 -nolisten tcp >/dev/null 2>&1 &
server=$!
trap 'kill $server 2>/dev/null || true' EXIT
sleep 2
export DISPLAY=$display XDG_RUNTIME_DIR=$folder
"$program" open "$project" >"$folder/window.log" 2>&1 &
shown=$!
window=
for _ in $(seq 60); do
  sleep 1
  window=$(xdotool search --name 'platebench|Ice shift' 2>/dev/null | tail -1 || true)
  [ -z "$window" ] || break
  kill -0 $shown 2>/dev/null || { echo "the window ended by itself:"; cat "$folder/window.log"; exit 1; }
done
[ -n "$window" ] || { echo "no window came up"; cat "$folder/window.log"; exit 1; }
sleep 15
import -window root "$folder/window.png"
colours=$(identify -format '%k' "$folder/window.png")
[ "$colours" -gt 500 ] || { echo "the window shows $colours colours only"; exit 1; }
xdotool windowfocus --sync "$window"
xdotool key ctrl+q
for _ in $(seq 30); do
  sleep 1
  kill -0 $shown 2>/dev/null || { echo "real window: shown ($colours colours) and closed"; exit 0; }
done
echo "the window did not close on its key"
kill $shown
exit 1
