#!/usr/bin/env python3
"""An independent verifier of airwrit registers (`v` 1, `rules` 1), for auditors.

It shares no code with the program that writes registers. It reads the bytes of a register and says

    sound     every line is whole, sealed, signed and in its place, and the custodians you trust vouch
              for the people who signed
    unproven  nothing is wrong, but something cannot be shown from here (it says what)
    broken    a line is not what it was, or not what the rules allow; the first such line is named

Use:   python3 verify.py [--custodian SHA256:... ...] [--threshold N] [--trust FILE] [--roster FILE ...]
                         [--excerpt] [--json] REGISTER_DIR_OR_FILE
Exit:  0 sound, 5 unproven, 4 broken, 3 could not (unreadable, unknown version), 2 wrong command line.
       Without --threshold, every custodian named on the command line must have signed the roster.
       --roster gives a later version of the roster from outside, with the custodians' signatures beside it
       (FILE.sig or FILE.*.sig, as `ssh-keygen -Y sign -n airwrit-roster-v1` writes them): what it says of
       keys counts, whether or not the register ever took it in.

What it does not do: judge gates, answers or air again, or know of copies of the register elsewhere
(a tail cut off at the end of a line and never continued shows only there).

Needs Python 3.9 and PyYAML (`pip install pyyaml`, Debian `python3-yaml`) for the roster's text.
In the order of this file: signatures, text forms, the profile of JSON, the table of kinds, rosters and
how one follows another, the checks of one line in their order, what a line does to the state of permits,
the command.
"""
import argparse
import base64
import datetime
import glob
import hashlib
import io
import json
import os
import re
import sys

try:
    import yaml
except ImportError:
    yaml = None

LINE_LIMIT = 2 * 1024 * 1024       # bytes of a line with its line feed
ROSTER_LIMIT = 512 * 1024          # bytes of a roster's text
ZEROS = "0" * 64                   # "there is none before"
MINUTE, HOUR, DAY = 60, 3600, 86400


class Broken(Exception):
    """A rule is broken: which, what was got, what was wanted."""

    def __init__(self, rule, got, wanted):
        super().__init__(rule)
        self.rule, self.got, self.wanted = rule, got, wanted


class CouldNot(Exception):
    """Nothing can be said: the file cannot be read, or its version is not known here."""


def short(value):
    """A value for a message: plain ASCII, nothing in it can reach the terminal as control."""
    text = value if isinstance(value, str) else repr(value)
    text = ascii(text)[1:-1]
    return text if len(text) <= 80 else text[:77] + "..."


def check(ok, rule, got, wanted):
    if not ok:
        raise Broken(rule, got, wanted)


def sha256(data):
    return hashlib.sha256(data).hexdigest()


# ---- Ed25519, verification only: RFC 8032 section 5.1, in the strict reading ---------------------
# Points are (X, Y, Z, T) with x = X/Z, y = Y/Z, x*y = T/Z (RFC 8032, 5.1.4).

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
ROOT_OF_MINUS_1 = pow(2, (P - 1) // 4, P)


def add(a, b):
    x1, y1, z1, t1 = a
    x2, y2, z2, t2 = b
    m, n = (y1 - x1) * (y2 - x2) % P, (y1 + x1) * (y2 + x2) % P
    c, d = 2 * D * t1 * t2 % P, 2 * z1 * z2 % P
    e, f, g, h = n - m, d - c, d + c, n + m
    return e * f % P, g * h % P, f * g % P, e * h % P


def double(a):
    x, y, z, _ = a
    m, n = x * x % P, y * y % P
    h = m + n
    e, g = h - (x + y) * (x + y) % P, m - n
    f = 2 * z * z % P + g
    return e * f % P, g * h % P, f * g % P, e * h % P


def decode_point(encoded):
    """The point of 32 bytes, or None: y not below p, no such x, or a minus sign on x = 0."""
    y = int.from_bytes(encoded, "little")
    sign, y = y >> 255, y & (2**255 - 1)
    if len(encoded) != 32 or y >= P:
        return None
    u, v = (y * y - 1) % P, (D * y * y + 1) % P
    x = u * pow(v, 3, P) * pow(u * pow(v, 7, P), (P - 5) // 8, P) % P
    if v * x * x % P == P - u:
        x = x * ROOT_OF_MINUS_1 % P
    if v * x * x % P != u or (x == 0 and sign):
        return None
    if x & 1 != sign:
        x = P - x
    return x, y, 1, x * y % P


def small_order(point):
    """One of the eight points that make every signature pass: eight times it is the neutral point."""
    x, y, z, _ = double(double(double(point)))
    return x == 0 and y == z


BASE = decode_point((4 * pow(5, P - 2, P) % P).to_bytes(32, "little"))


def strong_key(key):
    point = decode_point(key)
    return point is not None and not small_order(point)


def verify_strict(key, message, signature):
    """[S]B = R + [k]A, with A and R canonical and of no small order, and S < L."""
    a, r = decode_point(key), decode_point(signature[:32])
    s = int.from_bytes(signature[32:], "little")
    if a is None or r is None or len(signature) != 64 or s >= L or small_order(a) or small_order(r):
        return False
    k = int.from_bytes(hashlib.sha512(signature[:32] + key + message).digest(), "little") % L
    minus_a = (P - a[0], a[1], 1, P - a[3])
    both = add(BASE, minus_a)
    sum_ = (0, 1, 1, 0)
    for bit in range(252, -1, -1):          # [S]B - [k]A, bit by bit from the top
        sum_ = double(sum_)
        pick = (s >> bit & 1) + 2 * (k >> bit & 1)
        if pick:
            sum_ = add(sum_, (None, BASE, minus_a, both)[pick])
    x, y, z, _ = sum_
    return (x - r[0] * z) % P == 0 and (y - r[1] * z) % P == 0


def signed_blob(namespace, message, hash_name="sha256"):
    """What is signed: OpenSSH's blob (PROTOCOL.sshsig), so that `ssh-keygen -Y verify` agrees.
    The namespace keeps a signature of one kind from passing for another."""
    parts = (namespace.encode(), b"", hash_name.encode(), hashlib.new(hash_name, message).digest())
    return b"SSHSIG" + b"".join(len(p).to_bytes(4, "big") + p for p in parts)


# ---- Text forms: each has one way to be written, so that nothing can be altered without a trace --

def base64_bytes(text, length):
    """The bytes of canonical standard base64, or None."""
    try:
        data = base64.b64decode(text, validate=True)
    except ValueError:
        return None
    return data if len(data) == length and base64.b64encode(data).decode() == text else None


def base32(data):
    return base64.b32encode(data).decode().rstrip("=")


SSH_HEAD = b"\0\0\0\x0bssh-ed25519\0\0\0\x20"


def ssh_key(text):
    """The 32 bytes of an OpenSSH public key without comment, or None."""
    if not text.startswith("ssh-ed25519 "):
        return None
    blob = base64_bytes(text[12:], len(SSH_HEAD) + 32)
    return blob[len(SSH_HEAD):] if blob is not None and blob.startswith(SSH_HEAD) else None


def key_hash(key):
    return hashlib.sha256(SSH_HEAD + key).digest()


def fingerprint(key):
    return "SHA256:" + base64.b64encode(key_hash(key)).decode().rstrip("=")


def matches(pattern):
    compiled = re.compile(pattern)
    return lambda v: isinstance(v, str) and compiled.fullmatch(v) is not None


def is_date(v):
    if not matches("[0-9]{4}-[0-9]{2}-[0-9]{2}")(v) or v < "1970":
        return False
    try:
        datetime.date(int(v[:4]), int(v[5:7]), int(v[8:]))
        return True
    except ValueError:
        return False


def is_time(v):
    return matches("[0-9-]{10}T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]Z")(v) and is_date(v[:10])


def seconds(time):
    """Seconds of a UTC time, counted from a day long before; only differences and whole days are used."""
    day = datetime.date(int(time[:4]), int(time[5:7]), int(time[8:10])).toordinal()
    return day * DAY + int(time[11:13]) * HOUR + int(time[14:16]) * MINUTE + int(time[17:19])


def is_zone(v):
    return matches("[+-](0[0-9]|1[0-4]):[0-5][0-9]")(v) and v != "-00:00"


def local_yymmdd(time, zone):
    """The six digits of a permit number: the site's date."""
    away = int(zone[1:3]) * HOUR + int(zone[4:6]) * MINUTE
    days = (seconds(time) + (away if zone[0] == "+" else -away)) // DAY
    if days > datetime.date.max.toordinal():
        return None
    date = datetime.date.fromordinal(days)
    return "%02d%02d%02d" % (date.year % 100, date.month, date.day)


# ---- The profile: canonical JSON (RFC 8785), narrowed until one meaning has one spelling ---------

# Characters that hide, reorder or end text; noncharacters. Surrogates are no UTF-8 to begin with.
FORBIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ufff9-\ufffb\ufdd0-\ufdef"
    + "".join(chr(plane * 0x10000 + 0xFFFE) + chr(plane * 0x10000 + 0xFFFF) for plane in range(17)) + "]")
NAME = re.compile(r'"([a-z0-9_]+)":')
STRING = re.compile(r'"([^"\\]*(?:\\["\\n][^"\\]*)*)"')
INTEGER = re.compile("0|[1-9][0-9]*")
DEPTH = 8


def scan_body(raw):
    """BODY's members, from its bytes; every byte is accounted for."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as e:
        raise Broken("profile", "bytes that are not UTF-8 at byte %d" % e.start, "UTF-8") from None
    bad = FORBIDDEN.search(text)
    check(bad is None, "profile", bad and "U+%04X" % ord(bad.group()), "no hidden or control character")
    check(text.startswith("{"), "profile", short(text[:10]), "an object")
    value, end = scan(text, 0, 1, None)
    check(end == len(text), "profile", short(text[end:end + 20]), "nothing after the object")
    return value


def scan(text, at, depth, member):
    """The value that begins at `at`, and where it ends; `member` is the name it stands under."""
    first = text[at:at + 1]
    if first == '"':
        m = STRING.match(text, at)
        check(m, "profile", short(text[at:at + 20]), 'a string whose only escapes are \\" \\\\ \\n')
        value = re.sub(r"\\(.)", lambda e: "\n" if e[1] == "n" else e[1], m[1])
        check("\n" not in value or member in ("text", "said"),
              "profile", "a line feed in `%s`" % member, "line feeds only in `text` and `said`")
        return value, m.end()
    if first in ("{", "["):
        check(depth <= DEPTH, "profile", "depth %d" % depth, "at most %d" % DEPTH)
        close, value, before = ("}", {}, "") if first == "{" else ("]", [], None)
        at += 1
        if text[at:at + 1] == close:
            return value, at + 1
        while True:
            if first == "{":
                m = NAME.match(text, at)
                check(m, "profile", short(text[at:at + 20]), "a member name of a-z 0-9 _ and a colon")
                check(before < m[1], "profile", "`%s` after `%s`" % (m[1][:40], before[:40]),
                      "names strictly ascending")
                before = m[1]
                value[before], at = scan(text, m.end(), depth + 1, before)
            else:
                item, at = scan(text, at, depth + 1, None)
                value.append(item)
            if text[at:at + 1] == close:
                return value, at + 1
            check(text[at:at + 1] == ",", "profile", short(text[at:at + 20]), "`,` or `%s`" % close)
            at += 1
    for word, value in (("true", True), ("false", False)):
        if text.startswith(word, at):
            return value, at + len(word)
    m = INTEGER.match(text, at)
    check(m and len(m[0]) <= 16 and int(m[0]) < 2**53, "profile", short(text[at:at + 20]),
          "a string, an object, a list, true, false, or an integer from 0 to 2^53-1")
    return int(m[0]), m.end()


# ---- The table of kinds under `v` 1: what is not here is refused --------------------------------

def one_of(words):
    allowed = words.split()
    return lambda v: isinstance(v, str) and v in allowed


def list_of(shape):
    return lambda v: isinstance(v, list) and 1 <= len(v) <= 64 and all(shape(i) for i in v)


def members(text):
    """`name:shape name?:shape ...` as a table; `?` marks a member that may be left out."""
    table = {}
    for word in text.split():
        name, shape = word.split(":")
        table[name.rstrip("?")] = (not name.endswith("?"), shape)
    return table


def object_of(text):
    table = members(text)
    return lambda v: isinstance(v, dict) and problem(table, v) is None


def problem(table, value):
    """What is wrong with an object's members, or None."""
    for name in value:
        if name not in table:
            return "member `%s`, not known here" % name[:60]
        if not SHAPES[table[name][1]](value[name]):
            return "`%s` is %s, wanted %s" % (name, short(value[name]), table[name][1])
    for name, (must, _) in table.items():
        if must and name not in value:
            return "no member `%s`" % name
    return None


DECIMAL = r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?"
ROLES = "operator supervisor attendant auditor enroller approver tester"
SHAPES = {
    "ident": matches("[a-z][a-z0-9_]{0,47}"),
    "id": matches("[a-z][a-z0-9-]{0,31}"),
    "text": lambda v: isinstance(v, str) and 1 <= len(v.encode()) <= 2000,
    "long": lambda v: isinstance(v, str) and v != "",
    "hash": matches("[0-9a-f]{64}"),
    "log": matches("[0-9a-f]{32}"),
    "date": is_date,
    "time": is_time,
    "decimal": matches(DECIMAL),
    "quantity": lambda v: matches(DECIMAL + " [^ ]+")(v) and len(v.partition(" ")[2].encode()) <= 16,
    "int": lambda v: type(v) is int,
    "true": lambda v: v is True,            # what would be false is left out
    "permit": matches("[A-Z0-9]{2,8}-[0-9]{6}-[0-9]{2,3}"),
    "station": matches("[A-Z0-9]{2,8}"),
    "signature": lambda v: isinstance(v, str) and base64_bytes(v, 64) is not None,
    "ssh_key": lambda v: isinstance(v, str) and ssh_key(v) is not None,
    "free": lambda v: isinstance(v, dict),  # its members belong to `rules`, not to `v`
    "role": one_of(ROLES),
    "where": one_of("station own"),
    "for": one_of("work shutdown"),
    "again": one_of("refilled changed tightened cleaned moved waited read_wrong asked_again other"),
    "event": one_of("supply_low change_over reserve_low co temperature oil over_pressure hose respirator "
                    "wearer_silent contact_lost fire hazard_released wind_turned ventilation_lost "
                    "attendant_unable unknown_person called drill false_alarm other"),
    "fill": one_of("this_set other_tested certificate not_known"),
    "service": one_of("filter oil air_side other"),
    "site_text": one_of("site limits"),
    "hash_name": one_of("sha256 sha512"),
}
SHAPES["texts"] = list_of(SHAPES["text"])
SHAPES["hashes"] = list_of(SHAPES["hash"])
SHAPES["cited_file"] = object_of("hash:hash id:id")
SHAPES["deviation"] = object_of("instead:text reason:text")
SHAPES["limits"] = object_of("until?:time wearers?:int words?:text")
SHAPES["signs"] = list_of(object_of("hash:hash_name key:ssh_key sign:signature"))
SHAPES["roster"] = object_of("signs:signs text:long")
SHAPES["before"] = object_of("head?:hash log?:log lost?:text seq?:int")
SHAPES["air_below"] = list_of(one_of("co co2 oil water"))
SHAPES["air_within"] = object_of("co?:quantity co2?:quantity dew_point?:quantity o2?:quantity oil?:quantity water?:quantity")
SHAPES["sample_point"] = one_of("mask_end outlet cylinder")
SHAPES["smell"] = one_of("none something")
SHAPES["relieved"] = one_of("attendant entry_watch")
SHAPES["half"] = one_of("asked given")
SHAPES["side"] = one_of("incoming outgoing")
SHAPES["takes"] = one_of("holder shift")
SHAPES["checked"] = list_of(one_of("fuel warnings wind"))
SHAPES["ends"] = list_of(object_of("id:id until:time"))
SHAPES["sheet"] = one_of("card permit")
SHAPES["seen"] = list_of(object_of("item?:text step:ident unit:text value:decimal"))
SHAPES["witness"] = object_of("hash:hash line:hash")
SHAPES["aside_kind"] = one_of("call_out event in off_air on_air out suspend")
SHAPES["asides"] = list_of(object_of("at:time by?:id data:free id:log kind:aside_kind permit?:permit"))

STATION = ()                                # not signed by a person
PERMIT, REGISTER, EITHER = "permit", "register", "permit or set"
ANY = None                                  # reports: in every state of the permit
NOT_ENDED = "draft declared live suspended"
TALLY = "at?:time breach?:texts outlet?:text person:text set?:id told_by?:text"

# kind: (roles that may sign it, where it belongs, states of the permit it may stand in, data)
KINDS = {
    "air_test": (STATION, REGISTER, ANY,
                 "at?:time below?:air_below certificate?:text co?:quantity co2?:quantity date:date dew_point?:quantity "
                 "instrument?:text instrument_good?:date line_pressure?:quantity line_temperature?:quantity o2?:quantity "
                 "oil?:quantity place:id sample_point?:sample_point sampler:text set:id smell?:smell told_by?:text "
                 "water?:quantity within?:air_within witness?:witness"),
    "answer": (STATION, PERMIT, NOT_ENDED,
               "again?:again at?:time below?:true deviation?:deviation form:hash item?:text left_out?:text "
               "rests_on?:hashes shown:text step:ident "
               "told_by?:text unit?:text value?:text words?:text"),
    "call_out": (STATION, EITHER, ANY, "at?:time set?:id told_by?:text words?:text"),
    "cancel": (("supervisor",), PERMIT, NOT_ENDED, "reason:text said:long where:where"),
    "carried": (STATION, PERMIT, NOT_ENDED, "answers:hashes form:hash"),
    "clock": (("supervisor",), REGISTER, ANY, "last:time reason:text said:long where:where"),
    "close": (("supervisor",), PERMIT, "handed_back", "said:long target:hash where:where"),
    "copy": (STATION, PERMIT, ANY, "hangs:text number:int sheet?:sheet taken_down?:true"),
    "countersign": (("supervisor",), PERMIT, "declared",
                    "deviations?:texts limits?:limits not_seen?:text said:long seen?:seen target:hash token:text valid_by:text "
                    "valid_to:time where:where"),
    "declare": (("operator",), PERMIT, "draft", "said:long where:where"),
    "denied": (STATION, EITHER, ANY, "request:text set?:id why:texts"),
    "enrol": (("enroller",), REGISTER, ANY, "before?:before roster:roster said:long seal:hash station:station where:where"),
    "event": (STATION, EITHER, ANY, "at?:time set?:id told_by?:text what:event words?:text"),
    "extend": (("operator", "supervisor"), PERMIT, "live",
               "entry_permits?:ends part:half reason?:text said:long target?:hash token?:text until?:time valid_by?:text "
               "valid_to?:time where:where"),
    "filled": (STATION, REGISTER, ANY,
               "at?:time date:date from:fill machine?:text set:id told_by?:text"),
    "form": (("approver",), REGISTER, ANY,
             "form:id hash:hash revision:int said:long text:long where:where"),
    "hand_back": (("operator",), PERMIT, "draft live suspended",
                  "left_running?:permit reason?:text said:long where:where"),
    "hand_over": (("operator",), PERMIT, "live suspended",
                  "checked?:checked part:side said:long staying?:text takes?:takes target?:hash to?:id unusual?:text where:where"),
    "in": (STATION, EITHER, ANY, TALLY),
    "job": (STATION, PERMIT, "draft declared", "job:free"),
    "moved": (STATION, REGISTER, ANY, "at?:time date:date place:id set:id told_by?:text"),
    "note": (STATION, EITHER, ANY, "set?:id target?:hash words:text"),
    "off_air": (STATION, EITHER, ANY, TALLY),
    "on_air": (STATION, EITHER, ANY, TALLY),
    "open": (STATION, PERMIT, "",
             "follows?:permit for:for form:cited_file job:free rules:int set:cited_file site:cited_file"),
    "out": (STATION, EITHER, ANY, TALLY),
    "plugged": (STATION, REGISTER, ANY, "at?:time date:date set:id supply_point:id told_by?:text"),
    "reading": (STATION, PERMIT, ANY,
                "at?:time item?:text told_by?:text unit:text value:decimal what:ident"),
    "recovery": (STATION, REGISTER, ANY, "aside?:asides hash?:hash length?:int"),
    "refuse": (("supervisor",), PERMIT, "declared", "reason:text said:long target:hash where:where"),
    "reinstate": (("supervisor", "operator"), PERMIT, "suspended", "cause:text said:long where:where"),
    "released": (STATION, REGISTER, ANY, "at?:time date:date set:id told_by?:text words?:text"),
    "relieve": (STATION, PERMIT, ANY, "at?:time breach?:texts from:id role:relieved to:id told_by?:text"),
    "roll_call": (STATION, EITHER, ANY, "at?:time found?:texts missing?:texts set?:id told_by?:text"),
    "roster": (STATION, REGISTER, ANY, "signs:signs text:long"),
    "serviced": (STATION, REGISTER, ANY,
                 "at?:time date:date hours?:quantity set:id told_by?:text what:service words?:text"),
    "set": (("approver",), REGISTER, ANY, "hash:hash said:long set:id text:long where:where"),
    "site": (("approver",), REGISTER, ANY,
             "hash:hash said:long site:id text:long what:site_text where:where"),
    "started": (STATION, REGISTER, ANY, "at?:time breach?:texts date:date hours?:quantity set:id told_by?:text"),
    "stopped": (STATION, REGISTER, ANY,
                "at?:time breach?:texts date:date set:id target?:hash told_by?:text"),
    "suspend": (STATION, EITHER, ANY, "at?:time reason:text set?:id told_by?:text"),
    "taken": (STATION, REGISTER, ANY, "at?:time date:date set:id told_by?:text words?:text"),
    "witness": (STATION, EITHER, ANY, "head:hash held?:true log:log seq:int set?:id station:station time:time"),
}
# An act in two lines: what each half must hold beside `part`, `said` and `where`, and what it may.
HALVES = {
    ("extend", "asked"): ("reason until", "entry_permits"),
    ("extend", "given"): ("target token valid_by valid_to", ""),
    ("hand_over", "outgoing"): ("checked takes to unusual", "staying"),
    ("hand_over", "incoming"): ("target", ""),
}


def problem_of(kind, data):
    """What is wrong with the data of a kind: (got, wanted), or None."""
    wrong = problem(members(KINDS[kind][3]), data) if isinstance(data, dict) else "no object"
    if wrong is not None:
        return wrong, "the data of `%s`" % kind
    given = [m for m in ("value", "left_out", "deviation") if m in data]
    if kind == "answer" and len(given) != 1:
        return " ".join(given), "exactly one of `value`, `left_out` and `deviation`"
    if (kind, data.get("part")) in HALVES:
        must, may = (set(m.split()) for m in HALVES[kind, data["part"]])
        have = set(data) - {"part", "said", "where"}
        if not must <= have <= must | may:
            return " ".join(sorted(have)), "the members of `%s`: %s" % (data["part"], " ".join(sorted(must)))
    if kind == "countersign" and {"seen", "not_seen"} <= set(data):
        return "`seen` and `not_seen`", "one of them at most"
    if kind == "recovery":
        cut = {"hash", "length"} & set(data)
        if ("aside" in data) == bool(cut) or len(cut) == 1:
            return "members " + " ".join(sorted(data)), "either `hash` and `length`, or `aside`"
        for entry in data.get("aside", ()):
            wrong = problem_of(entry["kind"], entry["data"])
            if wrong is not None:
                return wrong
            if ("permit" in entry) == ("set" in entry["data"]):
                return "both or neither of permit and set", "exactly one"
    return None


# Who may reinstate after what: after a grave event a supervisor; the operator only soon after one of these endings, and
# seldom.
GRAVE = "co temperature oil supply_low change_over reserve_low wearer_silent moved plugged stopped".split()
ENDINGS = "drill false_alarm".split()
OPERATOR_WITHIN, OPERATOR_TIMES = 15 * 60, 2

HARMLESS = ("copy", "denied", "note", "reading", "witness")   # may stand between what a signer saw and their act
BODY_MEMBERS = "kind log next prev roster seq time v zone"
ACT_MEMBERS = "by data key kind log role time v"


# ---- The roster: who may sign as what -----------------------------------------------------------

# Plain words that YAML 1.2 reads as null, truth or a number, not as text.
NOT_TEXT = re.compile(r"|~|null|Null|NULL|true|True|TRUE|false|False|FALSE|[-+]?0o[0-7]+|[-+]?0x[0-9a-fA-F]+|"
                      r"[-+]?0b[01]+|[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")


def yaml_tree(text):
    """Mappings and lists of one YAML document; a word is (text, whether YAML takes it for no text). What a hasty reader would miss is refused:
    the same key twice, aliases, tags, a second document, a plain word that is not text."""
    events = list(yaml.parse(text, Loader=yaml.SafeLoader))
    check(len(text.encode()) <= ROSTER_LIMIT, "roster", "a text over 512 KiB", "at most 512 KiB")
    check(not any(isinstance(e, yaml.DocumentStartEvent) and (e.version or e.tags) for e in events), "roster",
          "a directive", "plain YAML")
    blocks, flows = [-1], 0                 # columns of the block collections around, depth of [] and {}
    for e in events:
        check(not flows or e.start_mark.column > blocks[-1], "roster", "a line that begins too far left",
              "what stands in [] or {} further right than what it belongs to")
        end = e.end_mark.index
        check(end == e.start_mark.index or text[end - 1] not in "\"'}]" or text[end:end + 1] != "#", "roster", "a comment that begins at once after a word",
              "white space before `#`")
        if isinstance(e, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            if e.flow_style:
                flows += 1
            else:
                blocks.append(e.start_mark.column)
        elif isinstance(e, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            if flows:
                flows -= 1
            else:
                blocks.pop()
    documents = sum(isinstance(e, yaml.DocumentStartEvent) for e in events)
    check(documents == 1, "roster", "%d YAML documents" % documents, "one")
    place = iter(events[2:])                # after the start of the stream and of the document

    def node(event, depth):
        check(depth <= 8 and not isinstance(event, yaml.AliasEvent) and event.anchor is None
              and event.tag is None, "roster", "an alias, an anchor, a tag, or too deep", "plain YAML")
        if isinstance(event, yaml.ScalarEvent):
            return event.value, event.style is None and NOT_TEXT.fullmatch(event.value) is not None
        if isinstance(event, yaml.SequenceStartEvent):
            items = []
            while not isinstance(e := next(place), yaml.SequenceEndEvent):
                items.append(node(e, depth + 1))
            return items
        pairs = {}
        while not isinstance(e := next(place), yaml.MappingEndEvent):
            name = node(e, depth + 1)
            check(isinstance(name, tuple) and name[0] not in pairs, "roster", short(name),
                  "each key once, and a word")
            pairs[name[0]] = node(next(place), depth + 1)
        return pairs

    return node(next(place), 1)


def is_name(v):
    """Escapes in quotes could bring in what the text itself may not hold."""
    return SHAPES["text"](v) and v.strip() != "" and FORBIDDEN.search(v) is None


class Roster:
    """Read whole or refused; afterwards `persons` is {id: (roles, {fingerprint: (key, from, to, at, how)})}."""

    def __init__(self, text):
        self.source, self.hash = text, sha256(text.encode("utf-8", "replace"))
        bad = FORBIDDEN.search(text.replace("\n", ""))
        check(bad is None, "roster", bad and "U+%04X" % ord(bad.group()), "no hidden or control character")
        self.seen = set()                   # a key stands once in the file, custodians included
        try:
            tree = yaml_tree(text)
        except Broken:
            raise
        except Exception as e:              # whatever the YAML library makes of foreign bytes
            raise Broken("roster", "no YAML: " + short(str(e)), "a roster") from None
        top = self.mapping(tree, "roster before threshold custodians persons")
        check(isinstance(top["roster"], tuple) and top["roster"][1] and matches("[1-9][0-9]{0,3}")(top["roster"][0]),
              "roster", short(top["roster"]), "a version, from 1")
        self.version = int(top["roster"][0])
        self.before = top["before"][0] if isinstance(top["before"], tuple) else ""
        check(SHAPES["hash"](self.before) and (self.before == ZEROS) == (self.version == 1), "roster",
              short(self.before), "before: the SHA-256 of the version before; 64 zeros for version 1")
        self.custodians = [self.key(c) for c in self.sequence(top["custodians"])]
        check(isinstance(top["threshold"], tuple) and top["threshold"][1]
              and matches("[1-9][0-9]{0,3}")(top["threshold"][0])
              and int(top["threshold"][0]) <= len(self.custodians),
              "roster", "threshold " + short(top["threshold"]), "1 up to the count of custodians")
        self.threshold = int(top["threshold"][0])
        self.persons = {}
        for entry in self.sequence(top["persons"]):
            person = self.mapping(entry, "id name roles keys", "competence")
            name = self.text(person["id"], SHAPES["id"], "a person id")
            check(name not in self.persons, "roster", name + " twice", "each person once")
            self.text(person["name"], is_name, "a name of one line, 1 to 2000 bytes")
            if "competence" in person:
                self.text(person["competence"], is_date, "a date")
            roles = [self.text(r, SHAPES["role"], "a role") for r in self.sequence(person["roles"])]
            keys = dict(self.person_key(k) for k in self.sequence(person["keys"]))
            self.persons[name] = (roles, keys)

    def person_key(self, entry):
        entry = self.mapping(entry, "key from to", "revoked")
        key = self.key(entry["key"])
        from_, to = (seconds(self.text(entry[n], is_time, "a UTC time")) for n in ("from", "to"))
        check(from_ <= to, "roster", "a key that ends before it begins", "`from` not after `to`")
        at = how = None
        if "revoked" in entry:
            revoked = self.mapping(entry["revoked"], "at as")
            at = seconds(self.text(revoked["at"], is_time, "a UTC time"))
            how = self.text(revoked["as"], one_of("retired compromised"), "retired or compromised")
        return fingerprint(key), (key, from_, to, at, how)

    def key(self, value):
        key = ssh_key(self.text(value, SHAPES["ssh_key"], "an ssh-ed25519 key"))
        check(strong_key(key), "roster", fingerprint(key), "a key that is a point of no small order")
        check(key not in self.seen, "roster", fingerprint(key) + " twice", "each key once in the file")
        self.seen.add(key)
        return key

    @staticmethod
    def mapping(value, must, may=""):
        check(isinstance(value, dict) and set(must.split()) <= set(value) <= set((must + " " + may).split()),
              "roster", short(sorted(value) if isinstance(value, dict) else value), "the members " + must)
        return value

    @staticmethod
    def sequence(value):
        check(isinstance(value, list), "roster", short(value), "a list")
        return value

    @staticmethod
    def text(value, shape, wanted):
        check(isinstance(value, tuple) and not value[1] and shape(value[0]), "roster",
              short(value[0] if isinstance(value, tuple) else value), wanted)
        return value[0]


def check_custodians(roster, signs, old=None):
    """The signatures under a roster: those of its own custodians and, for one that follows another, of
    those before; each in its threshold. Returns the fingerprints of those who signed."""
    texts = [s["key"] for s in signs]
    check(all(a < b for a, b in zip(texts, texts[1:])), "custodian", "keys out of order or twice",
          "signatures ascending by key, each custodian once")
    rosters = [roster] if old is None else [old, roster]
    for s in signs:
        key = ssh_key(s["key"])
        check(strong_key(key), "custodian", fingerprint(key), "a key that is a point of no small order")
        check(any(key in r.custodians for r in rosters), "custodian", fingerprint(key), "a custodian of this roster")
        blob = signed_blob("airwrit-roster-v1", roster.source.encode(), s["hash"])
        check(verify_strict(key, blob, base64_bytes(s["sign"], 64)), "custodian",
              "a bad signature under the roster by " + fingerprint(key), "a good one")
    for r in rosters:
        have = sum(ssh_key(s["key"]) in r.custodians for s in signs)
        check(have >= r.threshold, "custodian", "%d signatures by custodians of version %d" % (have, r.version),
              "at least %d, its threshold" % r.threshold)
    return {fingerprint(ssh_key(s["key"])) for s in signs}


def of_its_own(roster, signs):
    """Where the version before is not here, its custodians' signatures say nothing."""
    return [s for s in signs if ssh_key(s["key"]) in roster.custodians]


def check_follows(old, new):
    """What one version after another may change: nobody and no key goes, no window is stretched, no
    revocation is taken back or softened, and no key changes sides between persons and custodians."""
    check(new.version == old.version + 1, "roster", "roster version %d" % new.version,
          "%d, the one after the version in force" % (old.version + 1))
    check(new.before == old.hash, "roster", "before " + new.before, old.hash)
    for person, (_, keys) in old.persons.items():
        check(person in new.persons, "roster", "%s gone" % person, "everybody of the version before")
        now = new.persons[person][1]
        for name, (_, from_, to, at, how) in keys.items():
            check(name in now, "roster", "a key of %s gone, %s" % (person, name), "every key of the version before")
            _, from_now, to_now, at_now, how_now = now[name]
            check(from_now == from_ and to_now <= to, "roster", "another window of %s" % name,
                  "the same beginning, and no later end")
            check(at is None or (at_now is not None and at_now <= at
                                 and not (how == "compromised" and how_now == "retired")),
                  "roster", "the revocation of %s taken back, later or softer" % name, "as before, or earlier")
    persons = [{k for _, keys in r.persons.values() for k, *_ in keys.values()} for r in (old, new)]
    for key in [k for k in old.custodians if k in persons[1]] + [k for k in new.custodians if k in persons[0]]:
        check(False, "roster", fingerprint(key), "no key that is a custodian's in one version and a person's in another")


def armoured_signature(text):
    """{hash, key, sign} of a stock OpenSSH signature file (PROTOCOL.sshsig), as a register carries it."""
    body = re.fullmatch(r"\s*-----BEGIN SSH SIGNATURE-----([A-Za-z0-9+/=\s]*)-----END SSH SIGNATURE-----\s*", text)
    check(body, "custodian", short(text[:40]), "an SSH signature")
    try:
        data = base64.b64decode("".join(body[1].split()), validate=True)
    except ValueError:
        data = b""
    check(data[:10] == b"SSHSIG\0\0\0\1", "custodian", "no SSHSIG of version 1", "one")
    data, parts = data[10:], []
    while len(data) >= 4:
        length = int.from_bytes(data[:4], "big")
        parts.append(data[4:4 + length])
        data = data[4 + length:]
    sign = parts[4] if len(parts) == 5 else b""
    check(not data and parts[1:3] == [b"airwrit-roster-v1", b""] and parts[3] in (b"sha256", b"sha512")
          and parts[0][:len(SSH_HEAD)] == SSH_HEAD and len(parts[0]) == len(SSH_HEAD) + 32
          and sign[:19] == b"\0\0\0\x0bssh-ed25519\0\0\0\x40" and len(sign) == 83,
          "custodian", "a signature of another kind", "ed25519 in the namespace airwrit-roster-v1")
    return {"hash": parts[3].decode(), "key": "ssh-ed25519 " + base64.b64encode(parts[0]).decode(),
            "sign": base64.b64encode(sign[19:]).decode()}


def newest_roster(known, in_force, given):
    """(roster, findings): the newest that follows the one in force, of `given` [(roster, signs)] in order of
    their versions; `known` are the versions that the register's lines brought."""
    newest, findings, known = in_force, [], list(known)
    for roster, signs in sorted(given, key=lambda g: g[0].version):
        if any(k.hash == roster.hash for k in known):
            continue
        if any(k.version == roster.version for k in known):
            findings.append((None, "roster", "another version %d than the register's, %s" % (roster.version, roster.hash),
                             "one roster of one number"))
        elif roster.version + 1 == known[0].version and roster.hash != known[0].before:
            findings.append((None, "roster", "version %d, %s" % (roster.version, roster.hash),
                             "%s, which the register's first one follows" % known[0].before))
        elif roster.version > newest.version:
            try:
                check_follows(newest, roster)
                check_custodians(roster, signs, newest)
                newest = roster
                known.append(roster)
            except Broken as b:
                findings.append((None, "roster", "a roster from outside that does not follow: " + str(b.got), b.wanted))
    return newest, findings


# ---- The register: one line at a time ------------------------------------------------------------

class Line:
    """A line being checked. `permit` is the Permit it belongs to, or None."""

    def __init__(self, raw):
        self.hash, self.seq, self.act, self.permit = sha256(raw), None, None, None


class Answer:
    """An answer as it was given; `left` once it was left as a deviation. `carried` marks the copy that counts on
    another permit. In an excerpt the permit itself may not be here, only its number."""

    def __init__(self, number, permit, data, place, carried=False):
        self.number, self.permit, self.data, self.place, self.carried = number, permit, data, place, carried
        self.at = data["form"], data["step"], data.get("item")
        self.left = False

    def is_(self, value):
        return self.data.get("value") == value


class Permit:
    def __init__(self, number, data):
        self.number, self.set, self.form = number, data["set"]["id"], data["form"]["hash"]
        self.for_shutdown = data["for"] == "shutdown"
        self.rules_known = data["rules"] == 1
        self.site, self.follows = data["site"]["id"], data.get("follows")
        self.holder = data["job"].get("holder")
        self.pending = None         # the first half of an act in two lines; falls with any change of state
        self._state, self.valid_to, self.shutdown_begun = "draft", None, False
        self.since = 0              # which line took it to the state it is in, for one that is suspended
        self.lines = []
        self.answers = {}           # (form, step, item) -> the last Answer that counts here, carried ones too
        self.given = {}             # the same of those given here

    @property
    def state(self):
        return self._state

    @state.setter
    def state(self, to):
        if to != self._state:
            self.pending = None
        self._state = to

    def deviations(self):
        """Last answers to its own form that were left as they are, as an act names them."""
        return sorted(step if item is None else step + "/" + item
                      for (form, step, item), a in self.answers.items() if form == self.form and a.left)

    def last(self, kind):
        return next((l for l in reversed(self.lines) if l.kind == kind), None)


class Register:
    """What must be known of the lines so far to judge the next one. All volumes are one history."""

    def __init__(self, excerpt_of=None):
        self.last = None            # the line before
        self.log = self.roster = self.station = self.next_key = None
        self.logs = []              # of every volume so far, the one at hand included
        self.volume = self.in_volume = 0    # number of the volume at hand, from 1; its lines that check
        self.signers = set()        # fingerprints of the custodians who signed the first roster
        self.rosters = []           # every version that a line brought
        self.hashes = set()         # H of every line
        self.latest = {}            # (kind, subject) -> the last such line, for `after` and citations
        self.forms = set()          # hashes of every checklist ever put in force
        self.permits = {}           # number -> Permit
        self.went_on = {}           # (set, person) -> when they went on air or in, the latest as told
        self.given = {}             # H of an answer -> Answer
        self.released = set()       # sets that left this register and were not taken again
        self.rolled = {}            # set -> the last line that called the roll and found everyone
        self.events = {}            # (set, what) -> the last line that told it, and its time
        self.tally = {}             # (set, person) -> number of the permit they are on air under, or None
        self.missing = False        # a volume before is not here: what began in it is not known
        self.excerpt_of = excerpt_of    # only the lines of this permit and what bears on it are here
        self.lines = []             # (place, line) of every line that checks
        self.unproven = []          # (place, rule, got, wanted)

    def place(self, seq):
        """How a line is named: its number; in a later volume the volume before it, as in 2:17."""
        return seq if self.volume <= 1 else "%d:%d" % (self.volume, seq)

    # The order below is the order of the design: bytes, place in the chain, seal, schema, act,
    # what the line refers to, state. Nothing read before the seal is used but to find its key.
    def take(self, raw):
        line = Line(raw)
        body_bytes, seal = self.frame(raw)
        line.body = scan_body(body_bytes)
        before = self.volume, self.in_volume
        self.chain(line)
        # In an excerpt lines are missing, and with them the keys of seals and the order of the rest.
        if line.follows:
            key = bytes.fromhex(self.next_key)
            check(strong_key(key) and verify_strict(key, signed_blob("airwrit-seal-v1", body_bytes), seal),
                  "seal", "a seal that does not fit", "the seal of this line by the key " + self.next_key)
        try:
            self.schema(line)
        except Broken:                      # no line 0: it is named as a line of the volume before
            self.volume, self.in_volume = before
            raise
        if line.begins:
            self.begin(line)
        if line.act is not None:
            self.signed(line, body_bytes)
        beside = self.beside(line)
        if not beside:
            self.references(line)
        if line.kind == "roster":
            self.follow(line)
        if self.excerpt_of is not None and beside:
            self.fold_beside(line)
        else:
            self.fold(line)
        self.keep(line)

    @staticmethod
    def frame(raw):
        """Fixed ends; BODY and the seal are cut out by position, never searched for."""
        check(len(raw) >= 109 and raw[:8] == b'{"body":' and raw[-99:-90] == b',"seal":"'
              and raw[-2:] == b'"}', "frame", short(raw[:30]), '{"body":...,"seal":"..."}')
        seal = base64_bytes(raw[-90:-2].decode("latin-1"), 64)
        check(seal is not None, "base64", short(raw[-90:-2]), "canonical base64 of 64 bytes")
        return raw[8:-99], seal

    def chain(self, line):
        """Version, and the line's place after the one before."""
        body, last = line.body, self.last
        v = body.get("v")
        check(type(v) is int, "version", short(v), "v: 1")
        if v != 1:
            raise CouldNot("version %d of the record is not known here" % v)
        log, time, seq = body.get("log"), body.get("time"), body.get("seq")
        line.begins = last is None or (body.get("kind") == "enrol" and type(seq) is int and seq == 0)
        check(SHAPES["log"](log), "log", short(log), "32 lower-case hex digits")
        if line.begins:
            self.volume, self.in_volume = self.volume + 1, 0
            check(log not in self.logs, "log", short(log), "another log in each volume")
        else:
            check(log == self.log, "log", short(log), self.log)
        wanted = 0 if line.begins else last.seq + 1
        line.follows = seq == wanted
        check(type(seq) is int and (line.follows or (not line.begins and self.excerpt_of is not None
                                                     and seq > last.seq)), "seq",
              short(seq), wanted)
        line.seq = seq
        prev = ZEROS if line.begins else last.hash
        check(body.get("prev") == prev if line.follows else SHAPES["hash"](body.get("prev")), "prev",
              short(body.get("prev")), prev)
        check(is_time(time), "time", short(time), "a UTC time like 2026-11-25T06:10:00Z")
        line.time = seconds(time)
        check(line.begins or body.get("kind") == "clock" or line.time >= last.time, "time", time,
              "not before the line before")
        check(is_zone(body.get("zone")), "time", short(body.get("zone")), "a zone like +01:00")
        if line.begins:                     # line 0 says which key seals it and carries the roster
            try:
                data = body["act"]["data"]
                key, text = data["seal"], data["roster"]["text"]
            except (KeyError, TypeError):
                raise Broken("kind", "no seal key and roster in line 0", "an `enrol` line") from None
            check(body.get("kind") == "enrol" and SHAPES["hash"](key) and SHAPES["long"](text),
                  "kind", short(body.get("kind")), "`enrol`, with its seal key and roster")
            self.next_key, wanted = key, sha256(text.encode())
        else:
            wanted = self.roster.hash
        check(body.get("roster") == wanted, "roster", short(body.get("roster")), wanted)

    def begin(self, line):
        """Line 0 of a volume: the roster it carries, and the volume it goes on from."""
        first, before, carried = self.last is None, line.data.get("before"), line.data["roster"]
        roster, signs = Roster(carried["text"]), carried["signs"]
        whole = before is None or (set(before) in ({"log", "seq", "head"}, {"lost"}))
        check(whole, "before", "members " + " ".join(sorted(before or ())), "`log`, `seq` and `head`, or `lost`")
        here = None if first else {"log": self.log, "seq": self.last.seq, "head": self.last.hash}
        gap = before is not None and "log" in before and before["log"] not in self.logs
        if first:
            self.signers = check_custodians(roster, of_its_own(roster, signs) if before else signs)
        elif gap:
            self.signers = check_custodians(roster, of_its_own(roster, signs))
        else:
            check(before == here, "before", short(json.dumps(before)), "the last line of the volume before, " + json.dumps(here))
            check(line.time >= self.last.time, "time", line.body["time"], "not before the volume before")
            if roster.hash == self.roster.hash:
                check_custodians(roster, signs)
            else:
                check_follows(self.roster, roster)
                check_custodians(roster, signs, self.roster)
        self.in_force(roster)
        self.log = line.body["log"]
        self.logs.append(self.log)
        if gap or (first and before is not None):
            self.missing = True
            self.permits, self.latest, self.rolled, self.events = {}, {}, {}, {}
            self.given, self.released = {}, set()
            self.unproven.append((self.place(0), "volume", "a volume before this one is not here", "every volume"))

    def in_force(self, roster):
        self.roster = roster
        if not self.rosters or self.rosters[-1].hash != roster.hash:
            self.rosters.append(roster)

    def follow(self, line):
        """A later version of the roster: in force from the next line on."""
        roster = Roster(line.data["text"])
        check_follows(self.roster, roster)
        check_custodians(roster, line.data["signs"], self.roster)
        self.in_force(roster)

    def beside(self, line):
        """Of another permit than the excerpt's, or of one opened in a volume that is not here: nothing is
        here that the line could be held against."""
        number = line.body.get("permit")
        if number is None:
            return False
        if self.excerpt_of is not None:
            return number != self.excerpt_of
        return self.missing and line.kind != "open" and number not in self.permits

    def schema(self, line):
        """The closed table: the kind, the members of BODY and ACT, their shapes."""
        body = line.body
        line.kind = body.get("kind")
        check(isinstance(line.kind, str) and line.kind in KINDS, "kind", short(line.kind), "a kind of version 1")
        check((line.kind == "enrol") == (line.seq == 0), "kind", line.kind, "`enrol` on line 0 and only there")
        roles, belongs, _, _ = KINDS[line.kind]
        names, extra = set(body), set()
        on_permit = belongs == PERMIT or (belongs == EITHER and "permit" in names)
        place = {"permit", "pprev"} if on_permit else set()
        wanted = set(BODY_MEMBERS.split()) | place | ({"act", "act_sign"} if roles else {"data"})
        if not roles:
            extra = {"by", "role"}
        check("permit" not in names or "pprev" in names, "pprev", "no `pprev`", "`pprev` beside `permit`")
        check(wanted <= names <= wanted | extra, "kind",
              short(" ".join(sorted(names - extra ^ wanted))) + " too many or missing",
              "the members " + " ".join(sorted(wanted)))
        check(SHAPES["hash"](body["next"]), "kind", short(body["next"]), "`next` of 64 lower-case hex digits")
        check(strong_key(bytes.fromhex(body["next"])), "seal", body["next"], "a key that is a point of no small order")
        check(SHAPES["id"](body.get("by", "a")) and SHAPES["role"](body.get("role", "operator")), "kind",
              short(body.get("by")) + " " + short(body.get("role")), "a person id and a role")
        line.act = body["act"] if roles else None
        if roles:
            check(isinstance(line.act, dict), "act", "no object", "an object")
            wanted = set(ACT_MEMBERS.split()) | (place or {"after"})
            check(set(line.act) == wanted, "act",
                  short(" ".join(sorted(set(line.act) ^ wanted))) + " too many or missing",
                  "the members " + " ".join(sorted(wanted)))
        line.data = line.act["data"] if roles else body["data"]
        wrong = problem_of(line.kind, line.data)
        check(wrong is None, "kind", *(wrong or ("", "")))
        check(belongs != EITHER or on_permit != ("set" in line.data), "kind",
              "both or neither of permit and set", "exactly one")

    def signed(self, line, body_bytes):
        """A person's act: who, as what, with which key, when, and their signature."""
        act, body, roles = line.act, line.body, KINDS[line.kind][0]
        sign = base64_bytes(body["act_sign"], 64) if isinstance(body["act_sign"], str) else None
        check(sign is not None, "base64", short(body["act_sign"]), "canonical base64 of 64 bytes")
        for name in ("kind", "log", "permit", "v"):
            same = type(act.get(name)) is type(body.get(name)) and act.get(name) == body.get(name)
            check(same, "act", "%s %s" % (name, short(act.get(name))), "%s, as the line has" % short(body.get(name)))
        if line.begins:
            check(act["after"] == ZEROS, "after", short(act["after"]), ZEROS)
        by = act["by"] if isinstance(act["by"], str) else None
        check(by in self.roster.persons, "person", short(act["by"]), "a person of the roster")
        has_roles, keys = self.roster.persons[by]
        key_name = act["key"] if isinstance(act["key"], str) else None
        check(key_name in keys, "key", short(act["key"]), "a key of %s in the roster" % by)
        check(act["role"] in roles and act["role"] in has_roles, "person", "%s as %s" % (by, short(act["role"])),
              "one of: %s, and that role in the roster" % ", ".join(roles))
        line.key, from_, to, revoked, how = keys[key_name]
        check(is_time(act["time"]), "time", short(act["time"]), "a UTC time")
        line.act_time = seconds(act["time"])
        for t in (line.act_time, line.time):
            check(from_ <= t <= to, "window", "signed or taken in outside the key's time",
                  "from its `from` to its `to`")
            check(revoked is None or t < revoked, "window", "signed or taken in after the key was " + str(how),
                  "before")
        late = 12 * HOUR if "permit" in body else 7 * DAY
        check(-5 * MINUTE <= line.time - line.act_time <= late, "time",
              "signed %s, taken in %s" % (act["time"], body["time"]),
              "taken in at most %d h after, and at most 5 min before" % (late // HOUR))
        # ACT's bytes; quotes in strings are escaped, and no other member of that name can be in it.
        act_bytes = body_bytes[len(b'{"act":'):body_bytes.index(b',"act_sign":"')]
        check(verify_strict(line.key, signed_blob("airwrit-sign-v1", act_bytes), sign), "signature",
              "a signature that does not fit", "the signature of %s over this act" % by)

    def references(self, line):
        """What the line says of other lines must be so."""
        body, data, kind = line.body, line.data, line.kind
        line.permit = self.permit_of(line) if "permit" in body else None
        before = line.permit.lines if line.permit else []
        check(kind != "clock" or not line.follows or data["last"] == self.last.body["time"], "time",
              "`last` is " + short(data.get("last")), self.last and self.last.body["time"])
        if line.permit:
            wanted = before[-1].hash if before else ZEROS
            check(body["pprev"] == wanted, "pprev", short(body["pprev"]), wanted)
        if kind == "air_test" and "witness" in data:
            cited = data["witness"]["line"]
            check(cited in self.hashes or self.missing, "citation", cited, "an earlier line of this register")
        if kind in ("countersign", "refuse", "close"):
            wanted = line.permit.last("hand_back" if kind == "close" else "declare")
            check(wanted is not None and data["target"] == wanted.hash, "target", data["target"],
                  wanted.hash if wanted else "a line of this permit to answer; there is none")
            check(kind != "countersign" or line.act["by"] != wanted.act["by"], "person", line.act["by"],
                  "another person than the one who declared")
        elif "target" in data and kind not in ("extend", "hand_over") and not self.missing:
            check(data["target"] in self.hashes, "target", data["target"], "an earlier line of this register")
        if line.act is not None and line.permit:
            shown = self.line_shown(line)
            check(line.act_time >= shown.time - 5 * MINUTE, "time", "signed %s" % line.act["time"],
                  "not more than 5 min before the line it was signed on")
            if kind == "countersign" or data.get("part") == "given":
                self.token(line, shown)
        elif line.act is not None and not line.begins and self.excerpt_of is None:
            last = self.latest.get(self.subject(line))
            wanted = last.hash if last and last.body["log"] == self.log else ZEROS
            check(line.act["after"] == wanted, "after", short(line.act["after"]), wanted)
        if kind in ("form", "set", "site"):
            wanted = sha256(data["text"].encode())
            check(data["hash"] == wanted, "citation", data["hash"], "%s, SHA-256 of the text" % wanted)
        if kind == "answer":
            check(data["form"] in self.forms or self.missing, "citation", data["form"], "a checklist put in force earlier")
            for cited in data.get("rests_on", ()):
                check(cited in self.hashes or self.missing, "citation", cited, "an earlier line of this register")
        if kind == "open":
            for name in ("form", "set", "site"):
                cited = data[name]
                last = self.latest.get((name, cited["id"]) + (("site",) if name == "site" else ()))
                if last is None and self.missing:
                    continue                # it may have been put in force in a volume that is not here
                check(last is not None and cited["hash"] == last.data["hash"], "citation",
                      "%s %s %s" % (name, cited["id"], cited["hash"]),
                      last.data["hash"] if last else "a text put in force earlier")
            if data["rules"] != 1:
                self.unproven.append((self.place(line.seq), "rules", "rules %d" % data["rules"],
                                      "rules 1, the only ones known here"))

        for entry in data.get("aside", ()) if kind == "recovery" and self.excerpt_of is None else ():
            number = entry.get("permit")
            check(number is None or number in self.permits or self.missing, "number", short(number), "a permit opened earlier")

    def permit_of(self, line):
        number = line.body["permit"]
        check(SHAPES["permit"](number), "number", short(number), "a permit number like AB-261125-01")
        if line.kind != "open":
            check(number in self.permits, "number", number, "a permit opened earlier")
            return self.permits[number]
        check(number not in self.permits, "number", number, "a number never used before")
        station, date, _ = number.split("-")
        wanted = "%s-%s-.." % (self.station, local_yymmdd(line.body["time"], line.body["zone"]))
        check(station + "-" + date + "-.." == wanted, "number", number, wanted)
        return Permit(number, line.data)

    @staticmethod
    def line_shown(line):
        """The line of the permit that the signer saw last: nothing but harmless lines came after it."""
        for between, l in enumerate(reversed(line.permit.lines)):
            if l.hash == line.act["pprev"]:
                return l
            if between == 64 or l.kind not in HARMLESS:
                break
        raise Broken("pprev", "act on %s" % short(line.act["pprev"]),
                     "the permit's last line, or one with only %s after it" % ", ".join(HARMLESS))

    @staticmethod
    def token(line, shown):
        """The token printed on the permit says what was countersigned, and is signed by the same key."""
        to, token = line.data["valid_to"], line.data["token"]
        stem = ".".join(("AW1", line.permit.number, re.sub("[^0-9]", "", to)[:12], str(shown.seq),
                         base32(bytes.fromhex(shown.hash)), base32(key_hash(line.key)[:8])))
        check(token.startswith(stem + "."), "token", short(token), stem)
        text = token[len(stem) + 1:]
        try:
            sign = base64.b32decode(text + "=" * (-len(text) % 8))
        except ValueError:
            sign = b""
        check(len(sign) == 64 and base32(sign) == text
              and verify_strict(line.key, signed_blob("airwrit-token-v1", stem.encode()), sign),
              "token", "a token whose signature does not fit", "the signature of the act's key")

    @staticmethod
    def subject(line):
        data, kind = line.data, line.kind
        if kind == "clock":
            return (kind,)
        return (kind, data.get(kind)) + ((data["what"],) if kind == "site" else ())

    # ---- states of permits, and who is on air ----

    def on_air(self, set_id=None, permit=None):
        return [who for (s, who), p in self.tally.items() if (s == set_id or p == permit and permit is not None)]

    def lapse(self, p, time):
        if (p.state in ("live", "suspended") and p.valid_to < time and not p.shutdown_begun
                and not self.on_air(permit=p.number)):
            p.state = "lapsed"

    def halt(self, permits):
        """Nobody goes on air any more under these."""
        for p in permits:
            if p.state == "live":
                p.since = len(self.lines)
            p.state = {"live": "suspended", "declared": "draft"}.get(p.state, p.state)

    def fold(self, line):
        if line.begins:                     # whatever was live is looked at anew; who is on air stays so
            self.halt(self.permits.values())
        elif line.kind == "clock":          # what had lapsed by the wrong clock stays so
            for p in self.permits.values():
                self.lapse(p, self.last.time)
            self.halt(self.permits.values())
            self.went_on = {who: min(when, line.time) for who, when in self.went_on.items()}
        elif line.kind == "recovery":       # reports that were written aside: each as if it stood alone
            for entry in line.data.get("aside", ()):
                self.fold_report(line, entry)
        else:
            self.fold_line(line)

    def fold_report(self, line, entry):
        report = Line(b"")
        report.body, report.kind, report.data, report.time = dict(entry), entry["kind"], entry["data"], line.time
        report.permit = self.permits.get(entry.get("permit"))
        if self.excerpt_of is not None and report.permit is None and "permit" in entry:
            self.fold_beside(report)
        else:
            self.fold_line(report)

    def fold_beside(self, line):
        """In an excerpt, a line of another permit of the same set: what it does to the set and its tally."""
        own = next(iter(self.permits.values()), None)
        # Of another permit's answers those stand there that lines of this one carry, and those of a shutdown.
        if line.kind == "answer" and (own is None or (line.data["form"] == own.form and not own.for_shutdown)):
            if "deviation" not in line.data:
                self.given[line.hash] = Answer(line.body["permit"], None, line.data, len(self.lines))
            return
        if own is None:
            return
        if line.kind in ("event", "call_out", "answer"):
            self.halt([own])
        self.noted(line, own.set, [own])
        self.tallied(line, own.set, line.body.get("permit"))

    def fold_line(self, line):
        kind, data, p = line.kind, line.data, line.permit
        number = p.number if p else line.body.get("permit")
        # Of a permit opened in a volume that is not here the set is not known: "".
        set_id = p.set if p else data.get("set", "")
        of_set = [q for q in self.permits.values() if q.set == set_id]
        if p and kind == "open":
            check(set_id not in self.released, "state", "`open` on %s, which was released" % set_id, "taken again first")
            before = self.permits.get(p.follows)
            if before:
                self.lapse(before, line.time)
            over = before is not None and (not before.rules_known or before.state in
                                           ("handed_back", "closed", "refused", "cancelled", "lapsed"))
            unknown = before is None and (self.missing or self.excerpt_of is not None)
            check(p.follows is None or over or unknown, "state", "`follows` " + short(p.follows),
                  "a permit that was handed back or has ended")
        if p and kind != "open" and p.rules_known:
            self.lifecycle(line, of_set)
        elif p and kind == "answer":        # under unknown rules nothing is judged; others may carry the answer
            self.answer(line, p)
            if data["form"] != p.form or p.for_shutdown:
                self.halt(of_set)           # on the safe side for the others
        elif p and kind == "carried":
            for cited in data["answers"]:
                self.carry(self.given.get(cited), p)
        if p or number is None:
            if kind in ("event", "call_out", "moved", "plugged", "stopped") or (kind == "suspend" and not p):
                self.halt(of_set)
            elif kind == "suspend":
                self.halt([p])
            self.noted(line, set_id, of_set)
        self.tallied(line, set_id, number)

    def noted(self, line, set_id, of_set):
        """What decides who may reinstate, and when; and whether the set is here."""
        if line.kind == "released":
            self.released.add(set_id)
        elif line.kind == "taken":
            self.released.discard(set_id)
        elif line.kind == "event":
            self.events[set_id, line.data["what"]] = len(self.lines), line.time
        elif line.kind in ("moved", "plugged", "stopped"):
            self.events[set_id, line.kind] = len(self.lines), line.time
        elif line.kind == "roll_call" and line.data.get("missing"):
            self.halt(of_set)
        elif line.kind == "roll_call":
            self.rolled[set_id] = len(self.lines)

    def may_reinstate(self, line, p):
        """What stands against it, and what is wanted; or None."""
        if self.rolled.get(p.set, -1) <= p.since:
            return "no roll call since", "one that found everyone"
        if line.act["role"] == "supervisor":
            declared = p.last("declare")
            same = declared is not None and declared.act["by"] == line.act["by"]
            return ("the person who declared", "another person as supervisor") if same else None
        since = [what for what in GRAVE + ENDINGS if self.events.get((p.set, what), (-1, 0))[0] >= p.since]
        grave = [what for what in since if what in GRAVE]
        if grave:
            return "the operator after " + grave[0], "a supervisor"
        ended = max((self.events[p.set, what] for what in since), default=None)
        if ended is None or line.time - ended[1] > OPERATOR_WITHIN:
            return "the operator", "a supervisor, but soon after a drill or a false alarm"
        times = sum(l.kind == "reinstate" and l.act["role"] == "operator" for l in p.lines)
        return ("the operator, %d times before" % times, "a supervisor") if times >= OPERATOR_TIMES else None

    def tallied(self, line, set_id, number):
        if line.kind in ("on_air", "in", "out"):
            # Told without a permit, somebody stays with the permit they went on air under.
            who = set_id, line.data["person"]
            self.tally[who] = number if number else self.tally.get(who)
            if line.kind != "out" or who not in self.went_on:
                self.went_on[who] = max(self.went_on.get(who, 0), self.told(line))
        elif line.kind == "off_air":
            # Told for a time before they went on air: that was another time, and they stay on it.
            who = set_id, line.data["person"]
            if "at" not in line.data and "at" not in line.body or self.told(line) >= self.went_on.get(who, 0):
                self.tally.pop(who, None)
                self.went_on.pop(who, None)

    @staticmethod
    def told(line):
        at = line.data.get("at") or line.body.get("at")
        return seconds(at) if at else line.time

    def lifecycle(self, line, of_set):
        """May this line stand in the state the permit is in; and which state comes of it."""
        kind, data, p = line.kind, line.data, line.permit
        self.lapse(p, line.time)
        states = KINDS[kind][2]

        def allow(ok, wanted):
            check(ok, "state", "`%s` on a permit that is %s" % (kind, p.state), wanted)

        allow(states is ANY or p.state in states.split(), "only while %s" % states)
        mine, all_ = self.on_air(permit=p.number), self.on_air(set_id=p.set)
        if self.missing:                    # after a gap nobody can say who is still on air of whom it does not tell
            all_ = []
        if kind == "countersign":
            left, named = p.deviations(), data.get("deviations", [])
            check(named == left, "deviation", short(" ".join(named)), "exactly: " + short(" ".join(left)))
            check(not left or data.get("limits"), "deviation", "nothing narrowed", "limits, where deviations are accepted")
        if kind == "declare":
            allow(not p.for_shutdown, "never on a permit for shutdown")
            p.state = "declared"
        elif kind == "countersign":
            p.state, p.valid_to, p.shutdown_begun = "live", seconds(data["valid_to"]), False
            p.pending = None
        elif kind in ("extend", "hand_over"):
            self.half(line, p)
        elif kind == "carried":
            self.carried(data, p)
            if p.state == "declared":
                p.state = "draft"
        elif kind == "reinstate":
            allow(not all_, "nobody on air on the set: " + short(all_))
            against = self.may_reinstate(line, p)
            check(against is None, "state", *(against or ("", "")))
            p.state, p.shutdown_begun = "live", False
        elif kind == "refuse":
            p.state = "refused"
        elif kind in ("answer", "job"):
            if kind == "answer" and (data["form"] != p.form or p.for_shutdown):   # an answer of the shutdown
                allow(not all_, "nobody on air on the set: " + short(all_))
                self.may_answer(data, p)
                self.answer(line, p)
                self.halt(of_set)
                p.shutdown_begun = True
            elif kind == "job":
                p.holder = data["job"].get("holder")
            elif kind == "answer":
                self.may_answer(data, p)
                self.answer(line, p)
            if p.state == "declared":       # what was declared is no longer what stands
                p.state = "draft"
        elif kind == "hand_back":
            allow(p.state != "draft" or p.for_shutdown, "a draft only if it is for shutdown")
            allow(not mine, "nobody on air under it: " + short(mine))
            other = self.permits.get(data.get("left_running"))
            if other:
                self.lapse(other, line.time)
            runs_on = (other and other is not p and other.set == p.set
                       and (other.state == "live" or not other.rules_known))
            unknown = "left_running" in data and other is None and (self.missing or self.excerpt_of is not None)
            allow(runs_on or unknown or ("left_running" not in data and not all_), "nobody on air on the set, or it is left running for another live permit")
            p.state = "handed_back"
        elif kind == "close":
            allow(not mine, "nobody on air under it: " + short(mine))
            p.state = "closed"
        elif kind == "cancel":
            allow(not mine, "nobody on air under it: " + short(mine))
            p.state = "cancelled"

    def half(self, line, p):
        """Half of an act in two lines: who signs it, and that the second answers the first."""
        kind, data, by, role = line.kind, line.data, line.act["by"], line.act["role"]
        part = data["part"]
        wanted = "supervisor" if part == "given" else "operator"
        check(role == wanted, "person", role, wanted)
        if part in ("asked", "outgoing"):
            check(by == p.holder, "person", by, "the holder, " + short(p.holder))
            check(data.get("to") != by, "person", by, "another operator to hand over to")
            p.pending = line
            return
        first = p.pending
        check(first is not None and first.kind == kind and first.hash == data["target"], "target", data["target"],
              "the first half that stands")
        check(first.act["by"] != by, "person", by, "another person than signed the first half")
        issued = [l.act["by"] for l in p.lines if l.kind == "countersign" or l.data.get("part") == "given"]
        if kind == "hand_over":
            check(first.data["to"] == by, "person", by, first.data["to"])
            check(by not in issued, "person", by, "another person than issued it")
            p.holder = by
        else:
            declared = p.last("declare")
            check(declared is None or declared.act["by"] != by, "person", by, "another person than declared")
            check(p.valid_to is not None and seconds(data["valid_to"]) > p.valid_to, "state", data["valid_to"], "a later end")
            p.valid_to = seconds(data["valid_to"])
        p.pending = None

    def carried(self, data, p):
        """Answers of other permits count here: given to the same form on an issued one, the latest of their step there.
        Of a wait the beginning is cited before its end."""
        check(data["form"] == p.form and not p.for_shutdown, "citation", data["form"], "the form of the permit, " + p.form)
        here = {}
        for cited in data["answers"]:
            a = self.given.get(cited)
            if a is None and self.missing:
                continue
            check(a is not None, "citation", cited, "an answer to a step, given earlier")
            step = short(a.at[1])
            check(a.number != p.number and a.at[0] == p.form, "citation", step, "an answer of another permit to this form")
            check("value" in a.data and not a.left, "citation", step, "an answer that was neither left out nor left as a deviation")
            last = p.answers.get(a.at)
            ends = (last is not None and last.carried and last.is_("begun") and not a.is_("begun")
                    and last.number == a.number and last.place < a.place)
            check(last is None or ends, "citation", step, "a step not answered on this permit")
            if a.permit is not None:
                check(a.permit.site == p.site, "citation", a.permit.site, p.site)
                check(a.permit.last("countersign") is not None, "citation", a.number, "a permit that was issued")
            self.carry(a, p)
            here[a.at] = a
        for a in here.values():
            on_set = [q.given[a.at].place for q in self.permits.values() if a.permit and q.set == a.permit.set and a.at in q.given]
            check(a.place >= max(on_set, default=0), "citation", short(a.at[1]), "the latest answer to that step")

    @staticmethod
    def carry(a, p):
        if a is not None:
            p.answers[a.at] = Answer(a.number, a.permit, a.data, a.place, carried=True)

    @staticmethod
    def may_answer(data, p):
        """An answer given again says what was done since; a deviation leaves the last answer as it is."""
        last = p.answers.get((data["form"], data["step"], data.get("item")))
        if "deviation" in data:
            check(data["form"] == p.form and not p.for_shutdown and p.state in ("draft", "declared"), "deviation",
                  "a deviation on a permit that is " + p.state, "one of its own form, before it is issued")
            check(last is not None and "value" in last.data and not last.left, "deviation", short(data["step"]),
                  "a step whose last answer is a value and stands as it was given")
            return
        waited = last is not None and last.is_("begun") and data.get("value") == "done"
        check(last is None or waited or "again" in data, "again", short(data["step"]) + " answered again",
              "`again`, which says what was done since")

    def answer(self, line, p):
        a = Answer(p.number, p, line.data, len(self.lines))
        if "deviation" not in line.data:
            p.answers[a.at] = p.given[a.at] = self.given[line.hash] = a
        elif a.at in p.answers:
            p.answers[a.at].left = True

    def keep(self, line):
        kind, data = line.kind, line.data
        if line.permit:
            self.permits[line.permit.number] = line.permit
            line.permit.lines.append(line)
        if kind == "enrol":
            self.station = data["station"]
        if kind == "form":
            self.forms.add(data["hash"])
        if kind in ("form", "set", "site", "clock"):
            self.latest[self.subject(line)] = line
        self.hashes.add(line.hash)
        self.lines.append((self.place(line.seq), line))
        self.next_key = line.body["next"]
        self.in_volume += 1
        self.last = line

    # ---- what can be said only at the end ----

    def ended_keys(self, newest):
        """Acts by keys that the newest roster calls compromised, or says had ended before."""
        for place, line in self.lines:
            if line.act is None or line.act["by"] not in newest.persons:
                continue
            found = newest.persons[line.act["by"]][1].get(line.act["key"])
            if found is None:
                continue
            _, from_, to, at, how = found
            if how == "compromised":        # an older copy elsewhere could show it was made before
                yield (place, "compromised", "signed with a key that is compromised since",
                       "proof from elsewhere that it was signed before that")
            elif any(not from_ <= t <= to or (at is not None and t >= at) for t in (line.act_time, line.time)):
                yield (place, "retired", "signed when the key could sign no more, as roster version %d says"
                       % newest.version, "a key whose time was not over")

    def unreached(self):
        """Lines of an excerpt that no signature reaches: an act cites lines by hash, and these those before."""
        by_hash = {line.hash: line for _, line in self.lines}
        proven, todo, seen = set(), [], set()
        for _, line in self.lines:
            if line.act is not None:
                proven.add(line.hash)
                todo += [line.act.get("pprev") or line.act.get("after"), line.data.get("target"),
                         (line.data.get("before") or {}).get("head")]
            # Custodians signed a roster whole.
            if line.kind == "roster":
                proven.add(line.hash)
        while todo:
            line = by_hash.get(todo.pop())
            if line is not None and line.hash not in seen:
                seen.add(line.hash)
                proven.add(line.hash)
                todo += [line.body["prev"], line.body.get("pprev"), line.data.get("target")]
                todo += line.data.get("rests_on", []) + line.data.get("answers", [])
                todo.append((line.data.get("witness") or {}).get("line"))
        left = [place for place, line in self.lines if line.hash not in proven]
        if left:
            yield (left[0], "excerpt", "%d of %d lines that no signature reaches" % (len(left), len(self.lines)),
                   "every line before the last signature")


# ---- The whole register, and the command ---------------------------------------------------------

def permit_of_excerpt(lines):
    """The permit of an excerpt is the one that is opened in it last."""
    number = ""
    for raw in lines:
        try:
            body = json.loads(raw)["body"]
            number = body["permit"] if body["kind"] == "open" else number
        except (ValueError, KeyError, TypeError):
            pass
    return number


def verify(streams, custodians=(), threshold=None, later=(), excerpt=False):
    """(verdict, findings) of a register's volumes; a finding is (place, rule, got, wanted).
    `custodians` are the fingerprints trusted from outside; `threshold` of them must have signed. `later`:
    versions of the roster from outside, [(Roster, signs)]. One stream alone may stand for a list of one."""
    streams = list(streams) if isinstance(streams, (list, tuple)) else [streams]
    number = None
    if excerpt:
        raw = [l for s in streams for l in s.read().split(b"\n")]
        number = permit_of_excerpt(raw)
        streams = [io.BytesIO(b"\n".join(raw))]
    register = Register(number)
    trusted = set(custodians)
    needed = len(trusted) if threshold is None else threshold
    count = 0
    try:
        for stream in streams:
            while True:
                raw = stream.readline(LINE_LIMIT + 1)
                if not raw:
                    break
                check(len(raw) <= LINE_LIMIT, "frame", "a line over 2 MiB", "at most 2 MiB")
                check(raw.endswith(b"\n"), "tail", "a last line without line feed",
                      "whole lines: an append was cut short or bytes were lost; open it at its station")
                register.take(raw[:-1])
                count += 1
        check(count, "tail", "no line at all", "whole lines")
        check(not excerpt or register.permits, "state", "no permit is opened in this excerpt", "its `open`")
    except Broken as b:
        place = count if excerpt else register.place(register.in_volume)
        return "broken", [(place, b.rule, b.got, b.wanted)]
    except CouldNot as c:
        return "could not", [(register.place(register.in_volume), "version", str(c), "version 1")]
    newest, strange = newest_roster(register.rosters, register.roster, later)
    findings = register.unproven + list(register.ended_keys(newest))
    # In the order of the lines; what is said of no line first.
    order = {place: n for n, (place, _) in enumerate(register.lines)}
    findings = strange + sorted(findings, key=lambda f: order[f[0]])
    vouched = len(trusted & register.signers)
    if not trusted or vouched < needed:
        findings.insert(0, (
            0, "custodian", "%d of the custodians you trust signed the roster" % vouched,
            "at least %d" % needed if trusted else "some named from outside, with --custodian"))
    if excerpt:
        findings += register.unreached()
    return ("unproven" if findings else "sound"), findings


def open_register(path):
    """The volumes of a folder, or one file."""
    paths = [path]
    if os.path.isdir(path):
        names = sorted(n for n in os.listdir(path) if n.endswith(".jsonl"))
        for n in names:
            if not re.fullmatch(r"[0-9]{4}\.jsonl", n) or n == "0000.jsonl":
                raise CouldNot("%s stands among the volumes, which are named 0001.jsonl and so on" % short(n))
        if not names:
            raise CouldNot("no volume 0001.jsonl in %s" % short(path))
        paths = [os.path.join(path, n) for n in names]
    return [open(p, "rb") for p in paths]


def read_text(path):
    with open(path, "rb") as f:
        try:
            return f.read().decode("utf-8")
        except UnicodeDecodeError:
            raise CouldNot("%s is not UTF-8" % short(path)) from None


def open_roster(path):
    """(Roster, signs) of a file and the signatures beside it."""
    try:
        roster = Roster(read_text(path))
        signs = {}
        for p in sorted(glob.glob(glob.escape(path) + ".sig") + glob.glob(glob.escape(path) + ".*.sig")):
            s = armoured_signature(read_text(p))
            signs[s["key"]] = s
        return roster, [signs[k] for k in sorted(signs)]
    except Broken as b:
        raise CouldNot("%s: got %s, wanted %s" % (short(path), b.got, b.wanted)) from None


def open_trust(path):
    """(custodians, threshold) of a trust file."""
    try:
        tree = yaml_tree(read_text(path))
        check(isinstance(tree, dict) and set(tree) == {"custodians", "threshold"}
              and isinstance(tree["custodians"], list), "trust", "other members", "custodians and threshold")
        return [c[0] for c in tree["custodians"]], int(tree["threshold"][0])
    except Broken as b:
        raise CouldNot("%s: got %s, wanted %s" % (short(path), b.got, b.wanted)) from None
    except Exception as e:
        raise CouldNot("%s is no trust file: %s" % (short(path), short(str(e)))) from None


def good_fingerprint(text):
    return text.startswith("SHA256:") and base64_bytes(text[7:] + "=", 32) is not None


def main(arguments=None):
    parser = argparse.ArgumentParser(prog="verify.py", description="verify an airwrit register")
    parser.add_argument("--custodian", action="append", default=[], metavar="SHA256:...",
                        help="fingerprint of a custodian you trust, from outside the register; repeatable")
    parser.add_argument("--threshold", type=int, metavar="N", help="how many of them must have signed the roster")
    parser.add_argument("--trust", metavar="FILE", help="a file with `custodians` and `threshold` instead")
    parser.add_argument("--roster", action="append", default=[], metavar="FILE",
                        help="a later version of the roster, its signatures beside it (FILE.sig, FILE.*.sig); repeatable")
    parser.add_argument("--excerpt", action="store_true", help="it is an excerpt of one permit")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of lines")
    parser.add_argument("register", metavar="REGISTER_DIR_OR_FILE")
    args = parser.parse_args(arguments)
    for c in args.custodian:
        if not good_fingerprint(c):
            parser.error("--custodian %s: wanted SHA256: and 43 characters" % short(c))
    if args.trust and (args.custodian or args.threshold is not None):
        parser.error("--trust stands alone, without --custodian and --threshold")
    if args.threshold is not None and not 1 <= args.threshold <= len(set(args.custodian)):
        parser.error("--threshold %d: wanted 1 up to the count of --custodian" % args.threshold)
    streams = []
    try:
        if yaml is None:
            raise CouldNot("PyYAML is missing: pip install pyyaml, or Debian python3-yaml")
        custodians, threshold = args.custodian, args.threshold
        if args.trust:
            custodians, threshold = open_trust(args.trust)
            if not all(map(good_fingerprint, custodians)) or not 1 <= threshold <= len(set(custodians)):
                raise CouldNot("%s: wanted fingerprints and a threshold up to their count" % short(args.trust))
        later = [open_roster(p) for p in args.roster]
        streams = open_register(args.register)
        verdict, findings = verify(streams, custodians, threshold, later, args.excerpt)
        first = os.path.basename(streams[0].name)
        if (os.path.isdir(args.register) and first != "0001.jsonl" and verdict in ("sound", "unproven")
                and not any(rule == "volume" for _, rule, _, _ in findings)):
            # By its line 0 it begins a history, by its name it does not.
            findings.insert(0, (0, "volume", "%s as the first file, which begins a history" % first, "0001.jsonl"))
            verdict = "unproven"
    except (CouldNot, OSError) as e:
        verdict, findings = "could not", [(None, None, short(str(e)), "a register to read")]
    finally:
        for stream in streams:
            stream.close()
    if args.json:
        seq, rule, got, wanted = findings[0] if findings else (None, None, None, None)
        message = "got %s, wanted %s" % (got, wanted) if findings else "every line checks"
        print(json.dumps({"verdict": verdict, "line": seq, "rule": rule, "message": message}))
    else:
        print(verdict)
        for seq, rule, got, wanted in findings:
            place = "" if rule is None else "%s: " % rule if seq is None else "line %s: %s: " % (seq, rule)
            print("  %sgot %s, wanted %s" % (place, got, wanted))
    return {"sound": 0, "unproven": 5, "broken": 4, "could not": 3}[verdict]


if __name__ == "__main__":
    sys.exit(main())
