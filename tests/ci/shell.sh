#!/usr/bin/env bash
# The shell verifier over a demo folder, its damaged copies, and registers of the corpus: its exit code must be
# the expected one. What it does not judge (its own last words say so) it must not call broken.
#
#   tests/ci/shell.sh DEMO_FOLDER CORPUS_FOLDER
set -eu
here=$(cd "$(dirname "$0")/../.." && pwd)
demo=${1:?use: shell.sh DEMO_FOLDER CORPUS_FOLDER}
corpus=${2:?use: shell.sh DEMO_FOLDER CORPUS_FOLDER}
passed=0
expect() { # exit code, then the arguments
  local wanted=$1 got=0
  shift
  said=$(bash "$here/examples/verify.sh" "$@" 2>&1) || got=$?
  [ "$got" = "$wanted" ] || { echo "shell.sh: verify.sh $* ended $got, wanted $wanted: $said" >&2; exit 1; }
  passed=$((passed + 1))
}
mapfile -t trust < <(sed -n 's/^ *- \(SHA256:.*\)/\1/p' "$demo/trust.yaml")
expect 0 -t 2 "$demo/register" "${trust[@]}"
for damaged in "$demo"/damaged/*/; do expect 4 -t 2 "$damaged" "${trust[@]}"; done

mapfile -t trust < <(grep -oE 'SHA256:[A-Za-z0-9+/]{43}' "$corpus/sound/expected.json")
# Whom nobody outside vouches for, or too few.
expect 5 "$corpus/sound"
expect 5 -t 99 "$corpus/sound" "${trust[@]}"
# Good ones, and those whose damage is what it says it does not judge.
for name in sound roster2-is-good roster3-is-good roster2-of-both-is-good key-new-in-the-second-version-is-good \
  volume2-is-good volume2-the-next-roster-is-good aside-somebody-in-and-off-is-good \
  state-close-twice window-key-retired roster2-revocation-taken-back kind-event-unknown \
  turns-sound volume2-carried-from-the-first-is-good citation-carried-is-no-line token-of-a-later-end-one-letter; do
  expect 0 "$corpus/$name" "${trust[@]}"
done
expect 5 "$corpus/volume2-alone" "${trust[@]}"
# A folder whose first volume is missing by its name, and one without any.
bare=$(mktemp -d)
trap 'rm -rf "$bare"' EXIT
expect 3 "$bare" "${trust[@]}"
cp "$corpus/sound/0001.jsonl" "$bare/0002.jsonl"
expect 5 "$bare" "${trust[@]}"
case $said in *"0001.jsonl is missing"*) ;; *) echo "shell.sh: a missing first volume is not told: $said" >&2; exit 1 ;; esac
for name in frame-start seq-skips seq-line-removed seq-lines-exchanged prev-wrong log-of-another-register \
  roster-hash-wrong seal-one-letter seal-by-the-key-before seal-in-another-namespace seal-body-changed-after \
  signature-of-somebody-else signature-one-word-changed-after signature-in-the-seal-namespace key-of-somebody-else \
  key-not-in-the-roster person-unknown tail-no-line-feed tail-cut-by-40-bytes tail-one-byte-of-a-line tail-empty-file \
  roster2-downgrade-to-the-first roster2-version-skipped roster2-before-of-another roster2-one-signature-of-two \
  roster2-a-stranger-signs roster2-signatures-of-another-text roster2-one-custodian-twice roster2-in-the-namespace-of-acts \
  roster2-too-few-of-the-old roster2-too-few-of-the-new roster2-person-dropped roster2-key-dropped \
  roster2-key-given-to-another-person roster2-twice roster2-old-hash-on-the-next-line roster2-new-hash-on-its-own-line \
  person-of-the-second-version-before-it-is-in-force volume2-head-of-another volume2-seq-of-an-earlier-line \
  volume2-says-lost-what-is-here volume2-names-nothing-before volume2-first volume2-after-a-torn-first \
  volume2-the-next-roster-unsigned-by-the-old volume2-an-older-roster; do
  expect 4 "$corpus/$name" "${trust[@]}"
done
echo "$passed passed, 0 failed"
