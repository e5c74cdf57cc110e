#!/usr/bin/env bash
# What is signed elsewhere, shown as a QR code, under a stock reader. Usage: qr.sh DEMO_FOLDER AIRWRIT
# An act of a permit in the demo's register goes by terminal, camera and scanner, and is taken in.
set -euo pipefail
demo=$1
airwrit=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
passed=0
ok() { echo "ok   $*"; passed=$((passed + 1)); }
fail() { echo "FAIL $*"; exit 1; }
here=$(dirname "$0")

cp -r "$demo" "$work/demo"
at=(--register "$work/demo/register" --seal "$work/demo/seal" --today "$(TZ=Europe/Warsaw date +%F)")
permit=$("$airwrit" "${at[@]}" open --job "$here/../../examples/job.yaml" 2>/dev/null)
"$airwrit" "${at[@]}" excerpt "$permit" --to "$work/out.jsonl" >/dev/null
# Nobody has signed on a draft yet: its lines are not proven, and that is said.
echo demo | "$airwrit" sign "$work/out.jsonl" --as eleni --key "$work/demo/keys/eleni.pem" --trust "$work/demo/trust.yaml" \
  --unproven --to "$work/the.act" --picture "$work/code.png" cancel --reason "The ferry sails early" >/dev/null 2>"$work/screen"

for ground in dark light; do
  python3 "$here/qr.py" "$ground" <"$work/screen" >"$work/screen-$ground.pgm"
  zbarimg --quiet --raw --oneshot -Sbinary "$work/screen-$ground.pgm" >"$work/seen"
  cmp -s "$work/seen" "$work/the.act" && ok "a $ground terminal scans" || fail "a $ground terminal"
done
zbarimg --quiet --raw --oneshot -Sbinary "$work/code.png" >"$work/seen"
cmp -s "$work/seen" "$work/the.act" && ok "the picture scans" || fail "the picture"

"$airwrit" "${at[@]}" take-in - <"$work/seen" >"$work/told" 2>&1 && ok "what was scanned is taken in" || { cat "$work/told"; fail "take-in"; }
"$airwrit" verify "$work/demo/register" --trust "$work/demo/trust.yaml" >/dev/null && ok "the register is sound" || fail "verify"
keys=(--custodian SHA256:Ro9jMPV/ClbRoZa/Y2YQpmOETzgXACd5fqR0VVul2T8 --custodian SHA256:uZvQHXWS5Hu+Gl/8NrnI2bPkYgXR6TvRn66LwGoGJaU)
python3 "$here/../../examples/verify.py" "${keys[@]}" --threshold 2 "$work/demo/register" >/dev/null && ok "the second verifier agrees" || fail "verify.py"

echo "$passed passed, 0 failed"
