#!/usr/bin/env bash
# Verifies the chain, the seals and the signatures of an airwrit register with tools that every auditor has:
# bash, sed, grep, sha256sum, base64 and openssl. It shares nothing with airwrit or with verify.py.
#
#     bash verify.sh REGISTER/0001.jsonl [ROSTER_FINGERPRINT ...]
#
# Checked, in this order, for each line: its frame; its number; the hash of the line before; the seal, by the
# key that the line before names (line 0: by the key it carries); for a signed line the act's signature, by a
# key of that person on the roster in force; the roster in force. For line 0 and each later roster: the
# custodians' signatures. Fingerprints that you give are those of custodians you trust: it says how many of
# them signed the first roster.
#
# NOT checked here: the shapes of members, roles, windows of keys, the lifecycle, citations (verify.py and
# airwrit check them). Exit 0: all of the above holds. 4: it does not. 2: wrong command line. 3: could not.
set -u
export LC_ALL=C
[ $# -ge 1 ] || { echo "usage: verify.sh REGISTER/0001.jsonl [SHA256:... of custodians you trust]" >&2; exit 2; }
register=$1
shift
[ -r "$register" ] || { echo "cannot read $register" >&2; exit 3; }
for tool in openssl sha256sum base64 sed grep awk; do
  command -v "$tool" >/dev/null || { echo "this needs $tool" >&2; exit 3; }
done
work=$(mktemp -d) || exit 3
trap 'rm -rf "$work"' EXIT

broken() { echo "BROKEN at line $seq: $*"; exit 4; }

# The blob that is signed (OpenSSH's PROTOCOL.sshsig): file $1 holds the message, $2 the namespace,
# $3 sha256 or sha512.
blob() {
  local length
  length=$(printf '%02x' "${#2}")
  {
    printf "SSHSIG\\0\\0\\0\\x$length%s\\0\\0\\0\\0\\0\\0\\0\\006%s" "$2" "$3"
    if [ "$3" = sha512 ]; then printf '\0\0\0\100'; else printf '\0\0\0\040'; fi
    openssl dgst "-$3" -binary "$1"
  } >"$work/blob"
}

# True if signature $2 (base64) over $work/blob is by the key $1 (64 hex digits).
signed() {
  printf '%s' "$2" | base64 -d >"$work/sign" 2>/dev/null || return 1
  # SubjectPublicKeyInfo of an Ed25519 key, RFC 8410.
  printf "$(printf '302a300506032b6570032100%s' "$1" | sed 's/../\\x&/g')" >"$work/key"
  openssl pkeyutl -verify -pubin -keyform DER -inkey "$work/key" -rawin -in "$work/blob" \
    -sigfile "$work/sign" >/dev/null 2>&1
}

# The 64 hex digits of an OpenSSH key, and its fingerprint.
raw() { printf '%s' "${1#ssh-ed25519 }" | base64 -d | tail -c 32 | od -An -v -tx1 | tr -d ' \n'; }
fingerprint() {
  printf 'SHA256:%s' "$(printf '%s' "${1#ssh-ed25519 }" | base64 -d | openssl dgst -sha256 -binary | base64 | tr -d '=\n')"
}

# The roster text of a line ($1: its bytes), its escapes undone.
roster_text() {
  printf '%s' "$1" | grep -oE '"text":"([^"\\]|\\.)*"' | head -n 1 | sed 's/^"text":"//; s/"$//' |
    sed 's/\\n/\n/g; s/\\"/"/g; s/\\\\/\\/g'
}

# Takes a roster in force: person and key, one pair a line.
take_roster() {
  roster_text "$1" >"$work/roster"
  # The text ends as the file did; sed put one line break behind it.
  truncate -s -1 "$work/roster" 2>/dev/null
  [ "$(sha256sum <"$work/roster" | cut -c1-64)" = "$2" ] || roster_text "$1" >"$work/roster"
  [ "$(sha256sum <"$work/roster" | cut -c1-64)" = "$2" ] || return 1
  awk '/^ *- id:/ { id = $3 } /ssh-ed25519/ { for (i = 1; i < NF; i++) if ($i == "ssh-ed25519") print (id == "" ? "custodian" : id), $i, $(i + 1) }' \
    "$work/roster" | tr -d '"' >"$work/keys"
  # Every custodian's signature in the line must be good.
  printf '%s' "$1" | grep -oE '\{"hash":"sha(256|512)","key":"ssh-ed25519 [A-Za-z0-9+/=]+","sign":"[A-Za-z0-9+/=]{88}"\}' \
    >"$work/signs"
  while IFS= read -r entry; do
    hash=$(printf '%s' "$entry" | sed 's/.*"hash":"\([^"]*\)".*/\1/')
    key=$(printf '%s' "$entry" | sed 's/.*"key":"\([^"]*\)".*/\1/')
    sign=$(printf '%s' "$entry" | sed 's/.*"sign":"\([^"]*\)".*/\1/')
    blob "$work/roster" airwrit-roster-v1 "$hash"
    signed "$(raw "$key")" "$sign" || return 1
    fingerprint "$key"
    echo
  done <"$work/signs" >"$work/custodians"
}

seq=0
prev=0000000000000000000000000000000000000000000000000000000000000000
roster=
next=
acts=0
[ -z "$(tail -c 1 "$register")" ] || { seq=$(grep -c '' "$register"); seq=$((seq - 1)); broken "the last line is cut short"; }
while IFS= read -r line; do
  tail=${line:$((${#line} - 99))}
  case $line in '{"body":{'*) ;; *) broken "it does not begin with {\"body\":" ;; esac
  case $tail in ',"seal":"'*'"}') ;; *) broken "it does not end with a seal" ;; esac
  body=${line:8:$((${#line} - 107))}
  seal=${tail:9:88}
  printf '%s' "$body" >"$work/body"
  field() { printf '%s' "$body" | grep -oE "\"$1\":\"[0-9a-f]{64}\"" | tail -n 1 | cut -d'"' -f4; }

  [ "$(printf '%s' "$body" | grep -oE '"seq":[0-9]+' | tail -n 1)" = "\"seq\":$seq" ] || broken "its number is not $seq"
  [ "$(field prev)" = "$prev" ] || broken "prev is not the hash of the line before"
  named=$(field roster)
  if [ "$seq" = 0 ]; then
    next=$(printf '%s' "$body" | grep -oE '"seal":"[0-9a-f]{64}"' | head -n 1 | cut -d'"' -f4)
    roster=$named
    take_roster "$body" "$roster" || broken "the roster or a custodian's signature under it is wrong"
    cp "$work/custodians" "$work/first"
  fi
  [ "$named" = "$roster" ] || broken "the roster it names is not the one in force"
  blob "$work/body" airwrit-seal-v1 sha256
  signed "$next" "$seal" || broken "the seal is not by the key that the line before names"
  next=$(field next)

  case $body in
  '{"act":{'*)
    act=${body#'{"act":'}
    # Inside texts a quote is always escaped: these words stand once.
    sign=$(printf '%s' "$act" | grep -oE ',"act_sign":"[A-Za-z0-9+/=]{88}"' | cut -d'"' -f4)
    act=${act%%',"act_sign":"'*}
    printf '%s' "$act" >"$work/act"
    by=$(printf '%s' "$act" | sed 's/.*[{,]"by":"\([a-z0-9-]*\)".*/\1/')
    claimed=$(printf '%s' "$act" | grep -oE '"key":"SHA256:[A-Za-z0-9+/]{43}"' | tail -n 1 | cut -d'"' -f4)
    found=
    while read -r who kind b64; do
      [ "$who" = "$by" ] && [ "$(fingerprint "$kind $b64")" = "$claimed" ] && found="$kind $b64"
    done <"$work/keys"
    [ -n "$found" ] || broken "the key $claimed is no key of $by on the roster"
    blob "$work/act" airwrit-sign-v1 sha256
    signed "$(raw "$found")" "$sign" || broken "the signature of $by under the act is wrong"
    acts=$((acts + 1))
    ;;
  *'"kind":"roster","log":'*)
    roster=$(roster_text "$body" | head -c -1 | sha256sum | cut -c1-64)
    take_roster "$body" "$roster" || broken "the later roster or a custodian's signature under it is wrong"
    ;;
  esac
  prev=$(printf '%s' "$line" | sha256sum | cut -c1-64)
  seq=$((seq + 1))
done <"$register"
[ "$seq" -gt 0 ] || broken "there is no line in it"

echo "$seq lines chained and sealed, $acts signatures good; head $prev"
trusted=0
for f in "$@"; do grep -qxF "$f" "$work/first" && trusted=$((trusted + 1)); done
echo "$trusted of the custodians you named signed the first roster; these did:"
sed 's/^/  /' "$work/first"
exit 0
