#!/usr/bin/env bash
# The demo's PDFs under stock tools. Usage: paper.sh DEMO_FOLDER AIRWRIT
set -euo pipefail
demo=$1
airwrit=$2
live=$(ls "$demo"/permits/*-live.pdf)
closed=$(ls "$demo"/permits/*-closed.pdf)
card=$(ls "$demo"/permits/*-card.pdf)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
passed=0
ok() { echo "ok   $*"; passed=$((passed + 1)); }
fail() { echo "FAIL $*"; exit 1; }

# Cards: of the permit as it is now, closed, and without one, at both sizes.
number=$(basename "$card" -card.pdf)
"$airwrit" card "$number" --register "$demo/register" --to "$work/card-closed.pdf" >/dev/null
"$airwrit" card "$number" --register "$demo/register" --letter --to "$work/card-closed-letter.pdf" >/dev/null
"$airwrit" card --blank --to "$work/card-blank.pdf" >/dev/null
"$airwrit" card --blank --letter --to "$work/card-blank-letter.pdf" >/dev/null

for pdf in "$live" "$closed" "$card" "$work"/card-*.pdf; do
  qpdf --check "$pdf" >"$work/qpdf" 2>&1 && ok "qpdf --check $(basename "$pdf")" || { cat "$work/qpdf"; fail "qpdf"; }
  pdffonts "$pdf" | tail -n +3 | awk '{ if ($(NF-4) != "yes" || $(NF-3) != "yes") bad = 1 } END { exit bad }' \
    && ok "fonts embedded and subset" || fail "fonts"
done

# Built to PDF/A-3, level A, as far as stock tools can look.
python3 "$(dirname "$0")/pdfa.py" "$live" "$closed" "$card" "$work"/card-*.pdf && ok "rules of PDF/A-3" || fail "rules of PDF/A-3"
# What is read aloud begins with the number and the state, and pictures are told in words.
pdfinfo -struct-text "$live" >"$work/structure"
head -n 6 "$work/structure" | tr '\n' ' ' | grep -q "H1.*AIR PERMIT.*$number" && ok "the number is the first heading" || fail "first heading"
[ "$(grep -c "Figure" "$work/structure")" -ge 5 ] && ok "pictures are in the structure" || fail "pictures in the structure"
grep -q "Leave by, over the number of wearers" "$work/structure" && ok "titles of pictures" || fail "titles of pictures"
# The record in the file is enough to draw it again, whole.
"$airwrit" verify "$closed" --trust "$demo/trust.yaml" | grep -q "the same in every byte" && ok "the closed permit is drawn again" || fail "closed, drawn again"
{ "$airwrit" verify "$live" --trust "$demo/trust.yaml" || true; } | grep -q "the same in every byte" && ok "the live permit is drawn again" || fail "live, drawn again"

pdftotext -layout "$live" "$work/text"
for words in "Żaneta Brzęczyk" "Νίκος Θαλασσινός" "Ελένη Κυματοθραύστη" "LIVE" "It does not permit entry"; do
  grep -q "$words" "$work/text" && ok "text: $words" || fail "text: $words"
done
# What DEVELOPERS.md promises of page one stands on the printed one; a label may be broken over lines.
pdftotext -raw -f 1 -l 1 "$live" - | tr '\n' ' ' >"$work/front"
labels=$(sed -n '/<!-- permit items -->/,/<!-- end of permit items -->/p' "$(dirname "$0")/../../DEVELOPERS.md" \
  | grep -o '`page_one [^`]*`' | sed 's/^`page_one //; s/`$//' | sort -u)
[ "$(echo "$labels" | wc -l)" -ge 18 ] || fail "few labels of page one in DEVELOPERS.md"
while read -r label; do
  grep -qF "$label" "$work/front" && ok "page one: $label" || fail "page one: $label"
done <<<"$labels"
for words in "Maëlle Grandclère" "Łukasz Gżegżółka" "Παύλος Ανεμώνης" "KB-40-0117"; do
  grep -q "$words" "$work/front" && ok "text: $words" || fail "text: $words"
done
pdftotext -layout "$closed" "$work/closed"
grep -q "CLOSED" "$work/closed" && ok "text: CLOSED" || fail "text: CLOSED"

pdftotext -layout "$card" "$work/card"
for words in "LIVE" "$number" "555 0142" "Żaneta Brzęczyk" "Νίκος Θαλασσινός" "CHANGE TO RESERVE, OUT" "Nobody works on reserve" \
  "It does not permit entry" "off air"; do
  grep -q "$words" "$work/card" && ok "card: $words" || fail "card: $words"
done
pdftotext -layout "$work/card-closed.pdf" "$work/card-closed"
grep -q "CLOSED" "$work/card-closed" && ok "card: CLOSED" || fail "card: CLOSED"
for pdf in "$card" "$work"/card-*.pdf; do
  [ "$(pdfinfo "$pdf" | awk '/^Pages:/ { print $2 }')" = 1 ] && ok "one page: $(basename "$pdf")" || fail "pages of $pdf"
done

# The QR on the rendered page decodes to the token in the register, and the token verifies.
pdftoppm -r 150 -f 1 -l 1 -png "$live" "$work/page"
token=$(zbarimg --quiet --raw "$work"/page-*.png | head -n 1)
grep -qF "\"token\":\"$token\"" "$demo/register/0001.jsonl" && ok "QR decodes to the token" || fail "QR: got $token"
python3 "$(dirname "$0")/token.py" "$token" "$demo/allowed_signers" && ok "the token verifies" || fail "token"
pdftoppm -r 150 -f 1 -l 1 -png "$closed" "$work/ended"
[ -z "$(zbarimg --quiet --raw "$work"/ended-*.png || true)" ] && ok "a closed permit has no QR" || fail "QR on a closed permit"

# What is attached is the excerpt, and it verifies.
pdfdetach -save 1 -o "$work/record.jsonl" "$closed"
"$airwrit" verify --excerpt "$work/record.jsonl" --trust "$demo/trust.yaml" >/dev/null && ok "the attached record verifies" || fail "attachment"

echo "$passed passed, 0 failed"
