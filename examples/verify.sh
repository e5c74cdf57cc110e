#!/usr/bin/env bash
# Verifies the chain, the seals and the signatures of an airwrit register with tools that every auditor has:
# bash 4, sed, grep, awk, sha256sum, base64 and openssl 3. It shares nothing with airwrit or with verify.py.
#
#     bash verify.sh [-t N] REGISTER_DIR_OR_FILE [SHA256:... of custodians you trust]
#
# Checked, for each line in this order: its frame; its number; the hash of the line before; the roster that it
# names; the seal, by the key that the line before names (line 0: by the key it carries); for a signed line the
# act's signature, by a key of that person on the roster in force. For every roster: the custodians'
# signatures, in their threshold. For a later version: its number, the hash of the version before, that nobody
# and no key is gone, and the threshold of the custodians before. For a later volume: that it goes on after the
# last line of the one before. At the end: how many of the custodians you named signed the first roster.
#
# What is NOT judged is printed at the end.
# Exit 0: all of the above holds, and at least N (default: all) of the custodians you named signed the first
# roster. 5: all holds, but too few of them did, or you named none. 4: it does not hold. 2: wrong command
# line. 3: could not (a file or tool is missing, or the roster is written in a way that sed cannot read).
set -u
export LC_ALL=C
# What this machine sets up for its own use of openssl has no say in what is checked here.
export OPENSSL_CONF=/dev/null
usage() { echo "usage: verify.sh [-t N] REGISTER_DIR_OR_FILE [SHA256:... of custodians you trust]" >&2; exit 2; }
threshold=
while getopts t: option; do
  case $option in t) threshold=$OPTARG ;; *) usage ;; esac
done
shift $((OPTIND - 1))
[ $# -ge 1 ] || usage
case $threshold in *[!0-9]*) usage ;; esac
register=$1
shift
threshold=${threshold:-$#}
for f in "$@"; do [[ $f =~ ^SHA256:[A-Za-z0-9+/]{43}$ ]] || usage; done
for tool in openssl sha256sum base64 sed grep awk od; do
  command -v "$tool" >/dev/null || { echo "this needs $tool" >&2; exit 3; }
done
if [ -d "$register" ]; then volumes=("$register"/[0-9][0-9][0-9][0-9].jsonl); else volumes=("$register"); fi
late=
if [ -d "$register" ]; then
  [ -e "${volumes[0]}" ] || { echo "no volume (0001.jsonl, 0002.jsonl, ...) stands in $register" >&2; exit 3; }
  [ "${volumes[0]##*/}" = 0001.jsonl ] || late=${volumes[0]##*/}
fi
for v in "${volumes[@]}"; do
  [ -r "$v" ] && [ -f "$v" ] || { echo "cannot read $v" >&2; exit 3; }
done
# In memory where that can be had: some small files are written anew for each line.
work=$(mktemp -d -p /dev/shm 2>/dev/null) || work=$(mktemp -d) || exit 3
trap 'rm -rf "$work"' EXIT

volume=0
seq=0
place() { if [ "$volume" -le 1 ]; then printf %s "$seq"; else printf '%s:%s' "$volume" "$seq"; fi; }
broken() { echo "BROKEN at line $(place): $*"; exit 4; }
could_not() { echo "COULD NOT at line $(place): $*" >&2; exit 3; }

# The bytes that the hex digits $1 stand for, as printf takes them, in $escaped.
escape() {
  local i
  escaped=
  for ((i = 0; i < ${#1}; i += 8)); do escaped+="\\x${1:i:2}\\x${1:i+2:2}\\x${1:i+4:2}\\x${1:i+6:2}"; done
}

# True if signature $2 (base64) is by the key $1 (64 hex digits) over the blob that OpenSSH signs (its PROTOCOL.sshsig) for
# a message in the namespace $3; $4 is sha256 or sha512, $5 that hash of the message, in hex digits.
signed() {
  local namespace hash key
  base64 -d <<<"$2" >"$work/sign" 2>/dev/null || return 1
  printf -v namespace '%02x' "${#3}"
  printf -v hash '%02x' "$((${#5} / 2))"
  escape "$5"
  printf "SSHSIG\\0\\0\\0\\x$namespace%s\\0\\0\\0\\0\\0\\0\\0\\006%s\\0\\0\\0\\x$hash$escaped" "$3" "$4" >"$work/blob"
  # SubjectPublicKeyInfo of an Ed25519 key, RFC 8410.
  escape "302a300506032b6570032100$1"
  printf "$escaped" >"$work/key"
  openssl pkeyutl -verify -pubin -keyform DER -inkey "$work/key" -rawin -in "$work/blob" \
    -sigfile "$work/sign" >/dev/null 2>&1
}

# Of an OpenSSH key (its base64): its 64 hex digits in $raw, its fingerprint in $print. Worked out once for each key.
declare -A raws=() prints=()
key() {
  if [ -z "${prints[$1]:-}" ]; then
    raws[$1]=$(printf '%s' "$1" | base64 -d | tail -c 32 | od -An -v -tx1 | tr -d ' \n')
    prints[$1]=SHA256:$(printf '%s' "$1" | base64 -d | openssl dgst -sha256 -binary | base64 | tr -d '=\n')
  fi
  raw=${raws[$1]} print=${prints[$1]}
}

# What stands behind the first "$1":" of $2, up to the next quote, in $value.
field() {
  value=${2#*"\"$1\":\""}
  value=${value%%\"*}
}

# The roster text of a line ($1: its body) into $work/roster, its escapes undone. A text holds no character
# \x01, so that it can stand for an escaped backslash meanwhile.
roster_text() {
  printf '%s' "$1" | grep -oE '"text":"([^"\\]|\\.)*"' | head -n 1 | sed 's/^"text":"//; s/"$//' |
    sed 's/\\\\/\x01/g; s/\\n/\n/g; s/\\"/"/g; s/\x01/\\/g' >"$work/roster.lf"
  # sed put one line break behind it.
  head -c -1 "$work/roster.lf" >"$work/roster"
}

# Reads $work/roster: $work/keys (person, key: one pair a line), $work/custodians, and three values. Only rosters in
# plain block style are read here; others are no error, but another verifier must judge them.
read_roster() {
  # { } may end a line only; no block texts, anchors, aliases or tags.
  ! grep -qE '^[^#]*: *([|>&*!]|\[? *\{)' <(grep -v 'revoked:' "$work/roster") || return 1
  version=$(sed -n 's/^roster: *\([0-9][0-9]*\)[ ]*$/\1/p' "$work/roster")
  before=$(sed -n "s/^before: *[\"']\{0,1\}\([0-9a-f]\{64\}\)[\"']\{0,1\} *$/\1/p" "$work/roster")
  needed=$(sed -n 's/^threshold: *\([0-9][0-9]*\) *$/\1/p' "$work/roster")
  [ -n "$version" ] && [ -n "$before" ] && [ -n "$needed" ] || return 1
  awk '
    /^[ ]*#/ { next }
    /^[a-z]/ { part = $1; id = ""; indent = -1 }
    part == "persons:" && match($0, /^ *- /) {
      if (indent < 0) indent = RLENGTH
      if (RLENGTH == indent) { if ($2 != "id:") exit 1; id = $3; gsub(/["'\'']/, "", id) }
    }
    { for (i = 1; i < NF; i++) { k = $i; gsub(/["'\'']/, "", k); if (k == "ssh-ed25519") {
        b = $(i + 1); gsub(/["'\'']/, "", b)
        if (part == "custodians:") print "custodian", b
        else if (part == "persons:" && id != "") print id, b
        else exit 1 } } }' "$work/roster" >"$work/pairs" || return 1
  sed -n 's/^custodian //p' "$work/pairs" >"$work/custodians"
  grep -v '^custodian ' "$work/pairs" >"$work/keys"
  [ "$needed" -ge 1 ] && [ "$needed" -le "$(wc -l <"$work/custodians")" ]
}

# Takes the roster of a line ($1: its body) in force; $2: `first`, or `later` where it follows the one in force.
take_roster() {
  local old=$roster old_version=${version:-0} old_needed=${needed:-0} entry hash who sign mine=0 theirs=0
  cp "$work/keys" "$work/old.keys" 2>/dev/null || : >"$work/old.keys"
  cp "$work/custodians" "$work/old.custodians" 2>/dev/null || : >"$work/old.custodians"
  roster_text "$1"
  roster=$(sha256sum <"$work/roster" | cut -c1-64)
  [ "$2" = same ] && [ "$roster" = "$old" ] && return 0
  read_roster || could_not "the roster is not written in the plain way that this script reads; use verify.py or airwrit"
  if [ "$2" = first ]; then
    : >"$work/old.custodians"
    old_needed=0
  else
    [ "$version" = $((old_version + 1)) ] || broken "roster version $version follows version $old_version"
    [ "$before" = "$old" ] || broken "the roster's \`before\` is not the hash of the version before"
    lost=$(grep -vxFf "$work/keys" "$work/old.keys")
    [ -z "$lost" ] || broken "a person or key of the roster before is gone: $lost"
  fi
  printf '%s' "$1" | grep -oE '\{"hash":"sha(256|512)","key":"ssh-ed25519 [A-Za-z0-9+/=]+","sign":"[A-Za-z0-9+/=]{88}"\}' \
    >"$work/signs"
  [ "$(sort "$work/signs" | sed 's/.*"key":"\([^"]*\)".*/\1/' | sort | uniq -d)" = "" ] || broken "a custodian stands twice"
  : >"$work/signers"
  while IFS= read -r entry; do
    field hash "$entry" && hash=$value
    field key "$entry" && who=${value#ssh-ed25519 }
    field sign "$entry" && sign=$value
    key "$who"
    signed "$raw" "$sign" airwrit-roster-v1 "$hash" "$(openssl dgst "-$hash" -r "$work/roster" | cut -d' ' -f1)" ||
      broken "the signature of $print under the roster is wrong"
    if grep -qxF "$who" "$work/custodians"; then mine=$((mine + 1)); fi
    if grep -qxF "$who" "$work/old.custodians"; then theirs=$((theirs + 1)); fi
    # Where the volume before is not here, its custodians may have signed beside these.
    [ "$2" = first ] && [ "$gap" = yes ] || grep -qxF "$who" "$work/custodians" "$work/old.custodians" 2>/dev/null ||
      broken "$print signed the roster and is no custodian"
    echo "$print" >>"$work/signers"
  done <"$work/signs"
  [ "$mine" -ge "$needed" ] || broken "$mine of the roster's custodians signed it, its threshold is $needed"
  [ "$theirs" -ge "$old_needed" ] || broken "$theirs of the custodians before signed the roster, their threshold is $old_needed"
  rosters=$((rosters + 1))
}

zeros=0000000000000000000000000000000000000000000000000000000000000000
prev=$zeros
roster=
next=
log=
gap=no
lines=0
acts=0
rosters=0
for file in "${volumes[@]}"; do
  [ -s "$file" ] || continue
  if [ -n "$(tail -c 1 "$file")" ]; then cut=yes; else cut=no; fi
  count=$(grep -c '' "$file")
  at=0
  while IFS= read -r line || [ -n "$line" ]; do
    at=$((at + 1))
    if [ "$at" = "$count" ] && [ "$cut" = yes ]; then broken "the last line is cut short"; fi
    [ ${#line} -ge 109 ] || broken "it is too short for a line"
    tail=${line:$((${#line} - 99))}
    case $line in '{"body":{'*) ;; *) broken "it does not begin with {\"body\":" ;; esac
    case $tail in ',"seal":"'*'"}') ;; *) broken "it does not end with a seal" ;; esac
    body=${line:8:$((${#line} - 107))}
    seal=${tail:9:88}
    # A text escapes its quotes, so what looks like a member is one, and the line's own stand last, from `kind` on.
    end=$body
    [ ${#body} -le 1000 ] || end=${body: -1000}
    own='"kind":"'${end##*'"kind":"'}
    field kind "$own" && kind=$value
    field roster "$own" && named=$value
    number=${own#*'"seq":'} number=${number%%,*}
    person=no act= sign=
    case $body in '{"act":{'*) person=yes ;; esac
    if [[ $person = yes && $end = *',"act_sign":"'* ]]; then
      sign=${end##*',"act_sign":"'}
      act=${body:7:${#body}-${#sign}-20} sign=${sign%%\"*}
    fi
    # All that must be hashed, at once: the line, its body, and the act in it.
    printf '%s' "$line" >"$work/line"
    printf '%s' "$body" >"$work/body"
    printf '%s' "$act" >"$work/act"
    { read -r this _ && read -r body_hash _ && read -r act_hash _; } < <(sha256sum "$work/line" "$work/body" "$work/act")
    begins=no
    if [ "$kind" = enrol ] && [ "$number" = 0 ]; then begins=yes; fi

    if [ "$begins" = yes ]; then
      last_log=$log last_seq=$((seq - 1)) last=$prev
      volume=$((volume + 1)) seq=0
      field log "$own" && log=$value
      field prev "$own" && [ "$value" = "$zeros" ] || broken "prev of a first line is not 64 zeros"
      goes_on=$(printf '%s' "$body" | grep -oE '"before":\{[^}]*\}' | head -n 1)
      if [ "$lines" = 0 ]; then
        [ -z "$goes_on" ] || gap=yes
        take_roster "$body" first
        cp "$work/signers" "$work/first"
      elif [ "$goes_on" = "\"before\":{\"head\":\"$last\",\"log\":\"$last_log\",\"seq\":$last_seq}" ]; then
        take_roster "$body" same
      else
        broken "it does not go on after the last line of the volume before"
      fi
      next=$(printf '%s' "$body" | grep -oE '"seal":"[0-9a-f]{64}"' | head -n 1 | cut -d'"' -f4)
    else
      [ "$lines" -gt 0 ] || broken "the first line is no line 0 that begins a register"
      [ "$number" = "$seq" ] || broken "its number is not $seq"
      field log "$own" && [ "$value" = "$log" ] || broken "it is of another log"
      field prev "$own" && [ "$value" = "$prev" ] || broken "prev is not the hash of the line before"
    fi
    [ "$named" = "$roster" ] || broken "the roster it names is not the one in force"
    signed "$next" "$seal" airwrit-seal-v1 sha256 "$body_hash" || broken "the seal is not by the key that the line before names"
    field next "$own" && next=$value
    [[ $next =~ ^[0-9a-f]{64}$ ]] || broken "it names no key for the next line"

    if [ "$person" = yes ]; then
      by=
      [[ $act =~ ^\{(\"after\":\"[0-9a-f]*\",)?\"by\":\"([a-z0-9-]*)\",\"data\": ]] && by=${BASH_REMATCH[2]}
      claimed=$act
      [ ${#act} -le 500 ] || claimed=${act: -500}
      claimed=${claimed##*'"key":"'} claimed=${claimed%%\"*}
      found=
      while read -r who b64; do
        [ "$who" = "$by" ] && key "$b64" && [ "$print" = "$claimed" ] && found=$raw
      done <"$work/keys"
      [ -n "$found" ] || broken "the key $claimed is no key of $by on the roster"
      signed "$found" "$sign" airwrit-sign-v1 sha256 "$act_hash" || broken "the signature of $by under the act is wrong"
      acts=$((acts + 1))
    elif [ "$kind" = roster ]; then
      take_roster "$body" later
    fi
    prev=$this
    seq=$((seq + 1))
    lines=$((lines + 1))
  done <"$file"
done
[ "$lines" -gt 0 ] || broken "there is no line in it"

echo "$lines lines in $volume volume(s) chained and sealed, $acts signatures of persons good, $rosters roster(s) signed"
echo "last line $(seq=$((seq - 1)) && place), head $prev"
trusted=0
for f in "$@"; do if grep -qxF -e "$f" "$work/first"; then trusted=$((trusted + 1)); fi; done
echo "$trusted of the custodians you named signed the first roster; these did:"
sed 's/^/  /' "$work/first"
cat <<'END'
NOT judged here, and judged by verify.py and by `airwrit verify`: the shapes of lines and their members, other
writings of the same signature, times, roles, windows and revocations of keys, compromised keys, what a later
roster says of windows and revocations, tokens, citations, and whether a permit's state or somebody on air allows a
line. Nor is it judged by anybody whether what was typed was true.
END
[ -z "$late" ] ||
  echo "UNPROVEN: the first file here is $late: 0001.jsonl is missing, or this one was named anew"
[ "$gap" = no ] || echo "UNPROVEN: a volume before the first one here is missing"
if [ $# = 0 ]; then
  echo "UNPROVEN: nobody outside this register vouches for its custodians; name those you trust"
  exit 5
fi
[ "$trusted" -ge "$threshold" ] || { echo "UNPROVEN: wanted at least $threshold of the custodians you named"; exit 5; }
[ "$gap" = no ] && [ -z "$late" ] || exit 5
exit 0
