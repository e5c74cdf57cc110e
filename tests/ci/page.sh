#!/usr/bin/env bash
# The page in a real browser: Debian's chromium, driven by Playwright. A missing tool is a failure.
# page.sh PROGRAM [FOLDER FOR PICTURES]; AIRWRIT_PAGE_MODES names which of clicks, keys, two, calling; all where it is not set.
set -euo pipefail
program=$(realpath "$1")
shots=${2:-}
here=$(cd "$(dirname "$0")/../page" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

command -v chromium >/dev/null || { apt-get update -qq; DEBIAN_FRONTEND=noninteractive apt-get install -y -qq chromium >/dev/null; }
command -v npm >/dev/null || { apt-get update -qq; DEBIAN_FRONTEND=noninteractive apt-get install -y -qq npm >/dev/null; }
python3 -c 'import playwright' 2>/dev/null || python3 -m pip install --quiet playwright
python3 -c 'import yaml' 2>/dev/null || python3 -m pip install --quiet pyyaml
(cd "$work" && npm pack --silent axe-core >/dev/null && tar xzf axe-core-*.tgz package/axe.min.js)
for tool in chromium python3 npm; do command -v "$tool" >/dev/null; done
test -s "$work/package/axe.min.js"

export AIRWRIT="$program" AIRWRIT_AXE="$work/package/axe.min.js"
[ -n "$shots" ] && mkdir -p "$shots" && export AIRWRIT_SHOTS="$(realpath "$shots")"
failed=0
modes_wanted=${AIRWRIT_PAGE_MODES:-clicks keys two calling}
set -- $modes_wanted
while [ "$#" -gt 0 ]; do
  modes="$1 ${2:-}"
  shift "$(($# > 1 ? 2 : 1))"
  jobs=()
  for mode in $modes; do
    timeout 600 python3 "$here/day.py" "$mode" >"$work/$mode" 2>&1 & jobs+=("$!:$mode")
  done
  for job in "${jobs[@]}"; do
    wait "${job%%:*}" || failed=1
    cat "$work/${job##*:}"
  done
done
exit "$failed"
