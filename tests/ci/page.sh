#!/usr/bin/env bash
# The page in a real browser: Debian's chromium without a window, driven by Playwright. A missing tool is a failure.
# page.sh PROGRAM [FOLDER FOR PICTURES]; AIRWRIT_PAGE_MODES names which of clicks, keys, two, calling; all where it is not set.
set -euo pipefail
program=$(realpath "$1")
shots=${2:-}
here=$(cd "$(dirname "$0")/../page" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

modes_wanted=${AIRWRIT_PAGE_MODES:-clicks keys two calling}
# Several of us may begin at once, and one alone may install.
exec 9<"$0"
flock 9
apt() { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "$1" >/dev/null; }
# The build that cannot open a window takes a third less of a core; where there is none, the other is told to open none.
command -v chromium-headless-shell >/dev/null || apt chromium-headless-shell || command -v chromium >/dev/null || apt chromium
CHROMIUM=$(command -v chromium-headless-shell || command -v chromium)
echo "in $CHROMIUM"
command -v npm >/dev/null || apt npm
python3 -c 'import playwright' 2>/dev/null || python3 -m pip install --quiet playwright
python3 -c 'import yaml' 2>/dev/null || python3 -m pip install --quiet pyyaml
exec 9<&-
# The days by clicks alone look with it.
case " $modes_wanted " in *" clicks "*)
  (cd "$work" && npm pack --silent axe-core >/dev/null && tar xzf axe-core-*.tgz package/axe.min.js)
  test -s "$work/package/axe.min.js"
  export AIRWRIT_AXE="$work/package/axe.min.js" ;;
esac

export AIRWRIT="$program" CHROMIUM
[ -n "$shots" ] && mkdir -p "$shots" && export AIRWRIT_SHOTS="$(realpath "$shots")"
failed=0
set -- $modes_wanted
while [ "$#" -gt 0 ]; do
  modes="$1 ${2:-}"
  shift "$(($# > 1 ? 2 : 1))"
  jobs=()
  for mode in $modes; do
    # Against what hangs, not what is slow.
    timeout 1200 python3 "$here/day.py" "$mode" >"$work/$mode" 2>&1 & jobs+=("$!:$mode")
  done
  for job in "${jobs[@]}"; do
    wait "${job%%:*}" || failed=1
    cat "$work/${job##*:}"
  done
done
exit "$failed"
