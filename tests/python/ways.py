"""The ways to be wrong, one register each, named after the rule that finds it; and beside them the
nearest thing that is still right (`...-is-good`). CASES: (name, verdict, rule, function giving the
register's bytes and the `seq` of the line that is at fault).
"""
import base64
import hashlib
import json

from book import PERSONS, ZEROS, Book, at, person, roster_text, sha, signatures
from day import (FOUR, FIVE, ONE, SET, SEVEN, SIX, TEXTS, THREE, TWO, YARD, answered, enrolment, next_roster, opened, slope, the_day,
                 valid, write)
from signer import B, L, b32, b64, blob, encode, fingerprint, public, secret, sign, ssh, tbs, times

# The neutral point (x = 0, y = 1) as RFC 8032 section 5.1.2 encodes it.
NEUTRAL = (1).to_bytes(32, "little")
CASES = []      # (name, verdict, rule, function giving (bytes, line))


def case(name, rule, label, layer, damage, verdict="broken", back=0, **more):
    """The line at fault is the damaged or last inserted one, or so many lines `back` from it."""
    def make():
        book, line = write(label, layer, damage, **more)
        return b"".join(book.lines), line - back
    CASES.append((name, verdict, rule, make))


def put(**values):
    return lambda there, book: there.update(values)


def data(**values):
    return lambda said, book: said["data"].update(values)


def drop(*path):
    def go(there, book):
        for p in path[:-1]:
            there = there[p]
        del there[path[-1]]
    return go


def swap(old, new):
    def go(raw, book):
        assert raw.count(old) >= 1, (old, raw)
        return raw.replace(old, new, 1)
    return go


def added(book, lines):
    """Lines as cases write them: (kind, data or a function of the book, permit, more)."""
    for kind, d, permit, *more in lines:
        book.add(kind, d(book) if callable(d) else d, permit, **(more[0] if more else {}))


def inserted(name, rule, label, *lines, verdict="broken", back=0, **more):
    """Lines written before `label`, the last of which breaks a rule."""
    case(name, rule, label, None, None, verdict, back, insert=lambda book: added(book, lines), **more)


def filed(name, rule, change, verdict="broken"):
    """The whole file changed after it was written; `change` gives the bytes and the line."""
    def make():
        return change(list(write()[0].lines))
    CASES.append((name, verdict, rule, make))


def rostered(name, rule, text=None, signs=None, verdict="broken", bare=False):
    def go(said, book):
        said["data"].update(enrolment(text(), None if bare or not signs else signs(text())))
    case(name, rule, "enrol", "said", go, verdict)


def flip_seal(line, book):
    return line[:-50] + (b"A" if line[-50:-49] != b"A" else b"B") + line[-49:]


def spare_bits(text):
    """The same 64 bytes with a spare bit set: `..A==` for `..w==` and the like."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
    return text[:85] + letters[letters.index(text[85]) | 1] + "=="


def plus_order(sign_text):
    """S + L: the same signature to a lenient verifier (RFC 8032 section 8.4)."""
    s = base64.b64decode(sign_text)
    return b64(s[:32] + (int.from_bytes(s[32:], "little") + L).to_bytes(32, "little"))


def change_seal(change):
    def go(line, book):
        return line[:-91] + change(line[-91:-3].decode()).encode() + b'"}\n'
    return go


def change_sign(change):
    return lambda body, book: body.update(act_sign=change(body["act_sign"]))


def other(text):
    return ("1" if text[0] == "0" else "0") + text[1:]


# 1 frame, 2 base64
case("frame-start", "frame", "moved", "line", swap(b'{"body":', b'{"bodY":'))
case("profile-space-before-the-body", "profile", "moved", "line", swap(b'{"body":', b'{"body": '))
case("frame-seal-name", "frame", "moved", "line", swap(b',"seal":"', b',"seaL":"'))
case("frame-carriage-return", "frame", "moved", "line", swap(b'"}\n', b'"}\r\n'))
case("frame-empty-line", "frame", "moved", "line", lambda line, book: b"\n")
case("frame-over-2-mib", "frame", "moved", "line", lambda line, book: line[:30] + b"x" * (2 << 20) + line[30:])
case("frame-byte-order-mark", "frame", "enrol", "line", lambda line, book: b"\xef\xbb\xbf" + line)
case("base64-seal-spare-bits", "base64", "moved", "line", change_seal(spare_bits))
case("base64-seal-other-alphabet", "base64", "moved", "line", change_seal(lambda s: "-_" + s[2:]))
case("base64-seal-no-padding", "base64", "moved", "line", change_seal(lambda s: s[:86] + "AA"))
case("base64-act-sign-spare-bits", "base64", "declare", "body", change_sign(spare_bits))
case("base64-act-sign-short", "base64", "declare", "body", change_sign(lambda s: s[:-1]))

# 3 the profile, each under a good seal
case("profile-members-out-of-order", "profile", "moved", "text",
     lambda raw, book: raw.replace(b',"v":1,"zone":"+01:00"}', b',"zone":"+01:00","v":1}'))
case("profile-member-twice", "profile", "moved", "text", swap(b',"v":1', b',"v":1,"v":1'))
case("profile-white-space", "profile", "moved", "text", swap(b',"v":1', b', "v":1'))
case("profile-white-space-after-colon", "profile", "moved", "text", swap(b'"v":1', b'"v": 1'))
case("profile-unicode-escape", "profile", "moved", "text", swap(b"north-quay", b"north\\u002dquay"))
case("profile-slash-escape", "profile", "filled", "text", swap(b"filling bench", b"filling\\/bench"))
case("profile-tab-escape", "profile", "filled", "text", swap(b"filling bench", b"filling\\tbench"))
case("profile-negative", "profile", "copy", "text", swap(b'"number":1', b'"number":-1'))
case("profile-negative-zero", "profile", "copy", "text", swap(b'"number":1', b'"number":-0'))
case("profile-fraction", "profile", "copy", "text", swap(b'"number":1', b'"number":1.0'))
case("profile-exponent", "profile", "copy", "text", swap(b'"number":1', b'"number":1e0'))
case("profile-leading-zero", "profile", "copy", "text", swap(b'"number":1', b'"number":01'))
case("profile-integer-2-to-53", "profile", "copy", "text", swap(b'"number":1', b'"number":9007199254740992'))
case("profile-null", "profile", "copy", "text", swap(b'"number":1', b'"number":null'))
case("profile-upper-case-name", "profile", "copy", "text", swap(b'"number"', b'"Number"'))
case("profile-raw-control", "profile", "copy", "text", swap(b"on the set", b"on the\x07set"))
case("profile-delete", "profile", "copy", "text", swap(b"on the set", b"on the\x7fset"))
case("profile-right-to-left", "profile", "copy", "text", swap(b"on the set", "on the\u202eset".encode()))
case("profile-byte-order-mark", "profile", "copy", "text", swap(b"on the set", "on the\ufeffset".encode()))
case("profile-noncharacter", "profile", "copy", "text", swap(b"on the set", "on the\U0001fffeset".encode()))
case("profile-surrogate", "profile", "copy", "text", swap(b"on the set", b"on the\xed\xa0\x80set"))
case("profile-overlong-utf8", "profile", "copy", "text", swap(b"on the set", b"on the\xc0\xafset"))
case("profile-bad-utf8", "profile", "copy", "text", swap(b"on the set", b"on the\xffset"))
case("profile-line-feed-elsewhere", "profile", "copy", "text", swap(b"on the set", b"on the\\nset"))
case("profile-trailing-comma", "profile", "job", "text", swap(b'"list":[]', b'"list":["a",]'))
case("profile-semicolon-for-comma", "profile", "moved", "text", swap(b',"v":1', b';"v":1'))
case("profile-colon-missing", "profile", "moved", "text", swap(b'"v":1', b'"v"1'))
case("profile-after-the-object", "profile", "moved", "text", lambda raw, book: raw + b" ")
case("profile-two-objects", "profile", "moved", "text", lambda raw, book: raw + raw)
case("profile-no-object", "profile", "moved", "text", lambda raw, book: b"[" + raw + b"]")
case("profile-unfinished", "profile", "moved", "text", lambda raw, book: raw[:-1])
case("profile-depth-9", "profile", "job", "text", swap(b'"none":{}', b'"none":' + b'{"a":' * 5 + b"{}" + b"}" * 5))
case("profile-depth-8-is-good", None, "job", "text", swap(b'"none":{}', b'"none":' + b'{"a":' * 4 + b"{}" + b"}" * 4),
     "sound", stop=0)
case("profile-depth-100000", "profile", "job", "text", swap(b'"none":{}', b'"none":' + b"[" * 100000 + b"]" * 100000))
case("profile-integer-2-to-53-less-1-is-good", None, "copy", "text", swap(b'"number":1', b'"number":9007199254740991'),
     "sound", stop=0)

# 4 the chain
case("version-2", "version", "moved", "body", put(v=2), "could not")
case("version-0", "version", "moved", "body", put(v=0), "could not")
case("version-text", "version", "moved", "body", put(v="1"))
case("version-true", "version", "moved", "body", put(v=True))
case("version-missing", "version", "moved", "body", drop("v"))
case("log-of-another-register", "log", "moved", "body", put(log="77" * 16))
case("log-missing", "log", "moved", "body", drop("log"))
case("log-upper-case", "log", "enrol", "body", put(log="5E" * 16))
case("seq-skips", "seq", "moved", "body", lambda body, book: body.update(seq=body["seq"] + 1))
case("seq-missing", "seq", "moved", "body", drop("seq"))
case("seq-true", "seq", "site", "body", put(seq=True))
case("prev-wrong", "prev", "moved", "body", lambda body, book: body.update(prev=other(body["prev"])))
case("prev-missing", "prev", "moved", "body", drop("prev"))
case("prev-not-zeros-on-line-0", "prev", "enrol", "body", put(prev="1" * 64))
case("time-earlier-than-the-line-before", "time", "moved", "body", put(time=at(0)))
case("time-no-such-day", "time", "moved", "body", put(time="2026-11-31T06:00:00Z"))
case("time-leap-second", "time", "moved", "body", put(time="2026-12-31T23:59:60Z"))
case("time-with-fraction", "time", "moved", "body", put(time="2026-11-25T06:00:00.0Z"))
case("time-zone-minus-zero", "time", "moved", "body", put(zone="-00:00"))
case("time-zone-too-far", "time", "moved", "body", put(zone="+15:00"))
case("time-zone-missing", "time", "moved", "body", drop("zone"))
case("roster-hash-wrong", "roster", "moved", "body", lambda body, book: body.update(roster=other(body["roster"])))
case("roster-hash-wrong-on-line-0", "roster", "enrol", "body", put(roster=ZEROS))

# 5 the seal
case("seal-one-letter", "seal", "moved", "line", flip_seal)
case("seal-malleable-s-plus-l", "seal", "moved", "line", change_seal(plus_order))
case("seal-by-the-key-before", "seal", "moved", "line", lambda line, book: line[:-91] + b64(
    sign(book.seal_secret(len(book.lines) - 1), tbs("airwrit-seal-v1", line[8:-100]))).encode() + b'"}\n')
case("seal-in-another-namespace", "seal", "moved", "line", lambda line, book: line[:-91] + b64(
    sign(book.seal_secret(len(book.lines)), tbs("airwrit-sign-v1", line[8:-100]))).encode() + b'"}\n')
case("seal-body-changed-after", "seal", "moved", "line", swap(b"north-quay", b"south-quay"))
case("seal-of-line-0-by-another-key", "seal", "enrol", "said", data(seal=public(secret("somebody")).hex()))


def weak_seal(line, book):
    """With the neutral point as key, R = [S]B, S = anything passes a lenient verifier."""
    return line[:-91] + b64(encode(times(5, B)) + (5).to_bytes(32, "little")).encode() + b'"}\n'


def weak_next():
    book = Book()
    book.add("enrol", enrolment(), damage=put(next=NEUTRAL.hex()), layer="body")
    book.add("site", {"site": YARD, "what": "site", "text": TEXTS["site"]}, damage=weak_seal, layer="line")
    return b"".join(book.lines), 0


CASES.append(("seal-weak-key", "broken", "seal", weak_next))

# 6 the table of kinds
case("kind-unknown", "kind", "moved", "body", put(kind="movd"))
case("kind-missing", "kind", "moved", "body", drop("kind"))
case("kind-enrol-twice", "kind", "moved", "body", put(kind="enrol"))
inserted("kind-second-enrolment", "kind", "moved", ("enrol", enrolment(), None))
case("kind-enrol-seal-too-short", "kind", "enrol", "act", lambda act, book: act["data"].update(seal="ab" * 31))
case("kind-line-0-is-no-enrol", "kind", "enrol", "body", put(kind="form"))
case("kind-body-member-too-many", "kind", "moved", "body", put(extra="x"))
case("kind-next-missing", "kind", "moved", "body", drop("next"))
case("kind-next-upper-case", "kind", "moved", "body", lambda body, book: body.update(next="A" + body["next"][1:]))
case("kind-data-missing", "kind", "moved", "body", drop("data"))
case("kind-data-no-object", "kind", "moved", "body", put(data="x"))
case("kind-data-beside-act", "kind", "declare", "body", put(data={}))
case("kind-act-sign-missing", "kind", "declare", "body", drop("act_sign"))
case("kind-by-on-a-signed-line", "kind", "declare", "body", put(by="olia-brandt"))
case("kind-signed-kind-without-act", "kind", "moved", "body", put(kind="form"))
case("kind-role-unknown", "kind", "moved", "body", put(role="captain"))
case("kind-by-no-id", "kind", "moved", "body", put(by="Olia Brandt"))
case("kind-permit-on-a-register-line", "kind", "moved", "body", put(permit=ONE, pprev=ZEROS))
case("kind-permit-missing", "kind", "answer", "body", drop("permit"))
case("pprev-missing", "pprev", "answer", "body", drop("pprev"))
case("kind-neither-permit-nor-set", "kind", "on_set", "said", drop("data", "set"))
case("kind-both-permit-and-set", "kind", "on_air", "said", data(set=SET))
case("kind-data-member-too-many", "kind", "moved", "said", data(words="x"))
case("kind-false-where-only-true", "kind", "answer_again", "said", data(below=False))
case("kind-text-empty", "kind", "copy", "said", data(hangs=""))
case("kind-text-2001-bytes", "kind", "copy", "said", data(hangs="\u00e9" * 1000 + "x"))
case("kind-text-2000-bytes-is-good", None, "copy", "said", data(hangs="\u00e9" * 1000), "sound", stop=0)
case("kind-list-empty", "kind", "denied", "said", data(why=[]))
case("kind-list-of-65", "kind", "denied", "said", data(why=["x"] * 65))
case("kind-decimal-comma", "kind", "reading", "said", data(value="207,5"))
case("kind-decimal-leading-zero", "kind", "reading", "said", data(value="0207"))
case("kind-decimal-other-digits", "kind", "reading", "said", data(value="\u0663"))
for _name, _value in (("without-unit", "5"), ("space-only", "5 "), ("two-spaces", "5  ppm"), ("two-units", "5 ppm dry"),
                      ("no-number", "ppm"), ("comma", "0,5 ppm"), ("unit-of-17-bytes", "5 " + "x" * 17),
                      ("unit-of-17-bytes-in-9-letters", "5 " + "\u00b5" * 8 + "x"), ("unit-first", "ppm 5"), ("plus", "+5 ppm")):
    case("kind-quantity-" + _name, "kind", "air", "said", data(co=_value))
case("kind-quantity-a-number", "kind", "air", "said", data(co=5))
case("kind-quantity-unit-of-16-bytes-is-good", None, "air", "said", data(co="-0.5 " + "\u00b5" * 8), "sound", stop=0)
case("kind-air-test-without-figures-is-good", None, "air", "said",
     lambda s, b: [s["data"].pop(m) for m in ("co", "co2", "o2", "oil", "water", "certificate")] and None, "sound", stop=0)
case("kind-air-test-with-a-decimal-alone", "kind", "air", "said", data(o2="20.9"))
case("kind-filled-from-elsewhere", "kind", "filled", "said", data(**{"from": "filling bench 2"}))
case("kind-filled-from-not-known-is-good", None, "filled", "said",
     lambda s, b: s.update(data={"date": "2026-11-25", "set": SET, "from": "not_known"}), "sound", stop=0)
case("kind-serviced-something-else", "kind", "serviced", "said", data(what="belt"))
case("kind-serviced-without-words-is-good", None, "serviced", "said", drop("data", "words"), "sound", stop=0)
case("kind-serviced-hours-without-unit", "kind", "serviced", "said", data(hours="412"))
case("kind-started-hours-without-unit", "kind", "started", "said", data(hours="412"))
case("kind-integer-as-text", "kind", "copy", "said", data(number="1"))
case("kind-number-for-decimal", "kind", "reading", "said", data(value=207))
case("kind-event-unknown", "kind", "event", "said", data(what="smoke"))
case("kind-date-no-such-day", "kind", "moved", "said", data(date="2026-02-29"))
case("kind-date-week", "kind", "moved", "said", data(date="2026-W48-3"))
case("kind-answer-value-and-left-out", "kind", "answer", "said", data(left_out="x"))
case("kind-answer-neither", "kind", "answer", "said", drop("data", "value"))
case("kind-limits-member-too-many", "kind", "countersign", "said", data(limits={"hours": 2}))
case("kind-hash-upper-case", "kind", "note", "said", lambda s, b: s["data"].update(target=s["data"]["target"][:-1] + "A"))
for _label, _members in (("moved", ("date", "place", "set")), ("plugged", ("supply_point",)), ("filled", ("from",)),
                         ("air", ("place", "sampler", "date")),
                         ("serviced", ("what",)), ("started", ("date", "set")), ("answer", ("form", "shown", "step")), ("copy", ("hangs", "number")),
                         ("declare", ("said", "where")), ("countersign", ("valid_by", "valid_to", "target")),
                         ("open", ("for", "form", "job", "rules", "set", "site")), ("job", ("job",)),
                         ("reading", ("unit", "value", "what")), ("denied", ("request", "why")), ("event", ("what",)),
                         ("note", ("words",)), ("refuse", ("reason", "target")), ("close", ("target",)),
                         ("cancel", ("reason",)), ("on_air", ("person",)), ("recovery", ("hash", "length")), ("clock", ("last", "reason", "said")), ("roster", ("signs", "text")),
                         ("form", ("form", "revision", "text", "hash")), ("site", ("what",)), ("suspend3", ("reason",))):
    for _m in _members:
        _layer, _path = ("act", ("data", _m)) if _label in ("declare", "countersign", "refuse", "close", "cancel", "form", "site", "clock") \
            else ("body", ("data", _m))
        case("kind-%s-without-%s" % (_label, _m), "kind", _label, _layer, drop(*_path))
case("kind-countersign-without-token", "kind", "countersign", "act", drop("data", "token"))
case("kind-enrol-without-station", "kind", "enrol", "act", drop("data", "station"))
case("kind-enrol-station-lower-case", "kind", "enrol", "said", data(station="tq7"))
case("kind-enrol-signs-empty", "kind", "enrol", "said", lambda s, b: s["data"]["roster"].update(signs=[]))

# 7 the act
case("act-member-too-many", "act", "declare", "act", put(extra="x"))
for _m in ("by", "key", "kind", "log", "role", "time", "v", "permit", "pprev"):
    case("act-without-" + _m, "act", "declare", "act", drop(_m))
case("act-no-object", "act", "declare", "body", put(act="x"))
case("act-a-number", "act", "declare", "body", put(act=1))
case("act-after-on-a-permit", "act", "declare", "act", put(after=ZEROS))
case("act-without-after", "act", "form", "act", drop("after"))
case("act-of-another-kind", "act", "declare", "act", put(kind="refuse"))
case("act-of-another-log", "act", "declare", "act", put(log="77" * 16))
case("act-of-another-permit", "act", "declare2", "act", put(permit=TWO))
case("act-version-2", "act", "declare", "act", put(v=2))


def swapped_act(body, book):
    """The act and signature of the first declaration put into the second line."""
    first = json.loads(book.lines[17][8:-100])
    assert first["kind"] == "declare"
    body.update(act=first["act"], act_sign=first["act_sign"])


case("pprev-act-replayed", "pprev", "declare2", "body", swapped_act)
case("signature-one-word-changed-after", "signature", "declare", "body", lambda body, book: body["act"].update(
    data=dict(body["act"]["data"], where="own")))
case("signature-malleable-s-plus-l", "signature", "declare", "body", change_sign(plus_order))
case("signature-of-somebody-else", "signature", "declare", "said", put(
    sign_with="sunniva-kade", key=fingerprint(public(secret("olia-brandt")))))
case("signature-in-the-seal-namespace", "signature", "declare", "said", put(act_namespace="airwrit-seal-v1"))
case("signature-zero", "signature", "declare", "body", put(act_sign=b64(b"\0" * 64)))
case("signature-small-order-r", "signature", "declare", "body", lambda body, book: body.update(
    act_sign=b64(NEUTRAL + base64.b64decode(body["act_sign"])[32:])))
case("person-unknown", "person", "declare", "said", put(by="nobody-here", sign_with="olia-brandt"))
case("person-role-not-theirs", "person", "countersign", "said", put(by="olia-brandt", role="supervisor"))
case("person-role-not-of-the-kind", "person", "declare", "said", put(role="attendant"))
case("person-operator-countersigns", "person", "countersign", "said", put(by="olia-brandt", role="operator"))
case("person-role-unknown", "person", "declare", "said", put(role="captain"))
case("person-enrolled-by-no-enroller", "person", "enrol", "said", put(by="olia-brandt", role="operator"))
case("person-form-by-no-approver", "person", "form", "said", put(by="sunniva-kade", role="supervisor"))
case("key-of-somebody-else", "key", "declare", "said", put(key=fingerprint(public(secret("sunniva-kade")))))
case("key-not-in-the-roster", "key", "declare", "said", put(sign_with="a new key"))
case("key-with-padding", "key", "declare", "act", lambda act, book: act.update(key=act["key"] + "="))
case("window-key-expired", "window", "declare", "said", put(by="nan-ostrow"))
case("window-key-not-yet", "window", "declare", "said", put(by="ivo-late"))
case("window-key-retired", "window", "declare", "said", put(by="rut-holm"))
case("window-key-compromised-before", "window", "declare", "said", put(by="kim-sorel"))
case("window-expired-before-it-was-taken-in", "window", "enrol", "said", lambda said, book: said.update(
    data=dict(said["data"], **short_enroller()), act_time=at(0)))
case("compromised-later", "compromised", "declare", "said", put(by="lis-arvo"), "unproven")


def short_enroller():
    """The enroller's key ends between the signing and the line."""
    return enrolment(roster_text(persons=[person("edda-voss", "enroller", to=at(0))] + PERSONS[1:]))


def edge(**window):
    return lambda said, book: said["data"].update(
        enrolment(roster_text(persons=[person("edda-voss", "enroller", **window)] + PERSONS[1:])))


def second(minute, more):
    return at(minute)[:-3] + "%02dZ" % more


# line 0 stands, and is signed, at minute 1
case("window-last-second-is-good", None, "enrol", "said", edge(to=at(1)), "sound", stop=0)
case("window-first-second-is-good", None, "enrol", "said", edge(from_=at(1)), "sound", stop=0)
case("window-one-second-early", "window", "enrol", "said", edge(from_=second(1, 1)))
case("window-one-second-late", "window", "enrol", "said", edge(to=second(0, 59)))
case("window-retired-at-that-very-second", "window", "enrol", "said", edge(revoked="{at: %s, as: retired}" % at(1)))
case("window-compromised-at-that-very-second", "window", "enrol", "said", edge(revoked="{at: %s, as: compromised}" % at(1)))
case("window-retired-a-second-later-is-good", None, "enrol", "said", edge(revoked="{at: %s, as: retired}" % second(1, 1)),
     "sound", stop=0)
case("compromised-a-second-later", "compromised", "enrol", "said", edge(revoked="{at: %s, as: compromised}" % second(1, 1)),
     "unproven", stop=0)
case("time-act-6-min-after-the-line", "time", "declare", "said", lambda s, b: s.update(act_time=at(b.minute + 6)))
case("time-act-5-min-after-is-good", None, "declare", "said", lambda s, b: s.update(act_time=at(b.minute + 5)), "sound", stop=0)
case("time-permit-act-after-12-h-and-a-minute", "time", "declare2", "said", lambda s, b: s.update(act_time=at(b.minute - 721)))
case("time-form-after-7-days-and-a-minute", "time", "form", "said", lambda s, b: s.update(act_time=at(b.minute - 10081)))
case("time-form-after-7-days-is-good", None, "form", "said", lambda s, b: s.update(act_time=at(b.minute - 10080)), "sound", stop=0)
case("time-act-6-min-before-the-line-it-names", "time", "declare", "said", lambda s, b: s.update(act_time=at(b.minute - 7)))
case("time-act-malformed", "time", "declare", "said", lambda s, b: s.update(act_time=s["act_time"].replace("T", " ")))

# the roster
rostered("roster-no-yaml", "roster", lambda: "roster: [1\n")
rostered("roster-key-twice-in-the-yaml", "roster", lambda: roster_text() + "threshold: 1\n")
rostered("roster-member-unknown", "roster", lambda: roster_text() + "remark: none\n")
rostered("roster-version-2", "roster", lambda: roster_text().replace("roster: 1", "roster: 2"))
rostered("roster-before-not-zeros", "roster", lambda: roster_text().replace(ZEROS, "1" * 64))
rostered("roster-threshold-0", "roster", lambda: roster_text(threshold=0))
rostered("roster-threshold-over-custodians", "roster", lambda: roster_text(threshold=4))
rostered("roster-threshold-as-text", "roster", lambda: roster_text(threshold='"2"'))
rostered("roster-custodian-twice", "roster", lambda: roster_text(("keeper-one", "keeper-two", "keeper-two")))
rostered("roster-custodian-is-a-person", "roster", lambda: roster_text(("keeper-one", "keeper-two", "olia-brandt")))
rostered("roster-key-of-two-persons", "roster", lambda: roster_text(persons=PERSONS + [person("iva-stahl", "operator", "olia-brandt")]))
rostered("roster-person-twice", "roster", lambda: roster_text(persons=PERSONS + [person("olia-brandt", "operator", "x")]))
rostered("roster-roles-no-list", "roster", lambda: roster_text().replace("[enroller]", "enroller"))
rostered("roster-persons-no-list", "roster", lambda: roster_text(persons=["  nobody: x\n"]))
rostered("roster-role-unknown", "roster", lambda: roster_text().replace("[enroller]", "[enroller, captain]"))
rostered("roster-weak-custodian", "roster", lambda: roster_text().replace(ssh(public(secret("keeper-three"))), ssh(NEUTRAL)))
rostered("roster-weak-person", "roster", lambda: roster_text().replace(ssh(public(secret("bo-tersen"))), ssh(b"\0" * 32)))
rostered("roster-key-with-comment", "roster", lambda: roster_text().replace(
    ssh(public(secret("bo-tersen"))), ssh(public(secret("bo-tersen"))) + " bo@yard"))
rostered("roster-window-no-utc-time", "roster", lambda: roster_text().replace("to: 2027-12-31T23:59:59Z", "to: 2027-12-31", 1))
rostered("roster-revoked-as-lost", "roster", lambda: roster_text().replace("as: retired", "as: lost"))
rostered("roster-alias", "roster", lambda: roster_text().replace("roles: [enroller]", "roles: &r [enroller]"))
rostered("roster-person-id-true", "roster", lambda: roster_text().replace("id: bo-tersen", "id: true"))
def name_of_bo(name):
    return lambda: roster_text().replace("name: Bo Tersen", "name: " + name)


for _n, _name in enumerate(("123", "true", "~", "1e5", "0b1", "-0x1F", ".5", "' '", '"a\\nb"', '"a\\u202eb"', '"a\\e[2Jb"', "!!str x",
                            "''", "[x]", "|\n      x\n", "x" * 2001)):
    rostered("roster-name-%02d" % _n, "roster", name_of_bo(_name))
for _n, _name in enumerate(("'123'", "Tru", "1e", "0x", "2026-01-01", "yes", "12:30", "x" * 2000, "Ågot Ø", '"a\\u0041b"', "|-\n      x\n")):
    rostered("roster-name-%02d-is-good" % _n, None, name_of_bo(_name), verdict="sound")
rostered("roster-key-ends-before-it-begins", "roster", lambda: roster_text(
    persons=PERSONS + [person("iva-stahl", "operator", from_="2026-02-01T00:00:00Z", to="2026-01-31T23:59:59Z")]))
rostered("roster-competence-no-such-day", "roster", lambda: roster_text().replace("2027-03-31", "2027-02-31"))
rostered("roster-competence-another-way", "roster", lambda: roster_text().replace("2027-03-31", "20270331"))
rostered("roster-revoked-null", "roster", lambda: roster_text().replace("{at: 2026-11-20T00:00:00Z, as: retired}", "null"))
rostered("roster-threshold-02", "roster", lambda: roster_text(threshold="02"))
rostered("roster-threshold-plus", "roster", lambda: roster_text(threshold="+2"))
rostered("roster-threshold-hexadecimal", "roster", lambda: roster_text(threshold="0x2"))
rostered("roster-directive", "roster", lambda: "%YAML 1.2\n---\n" + roster_text())
rostered("roster-comment-is-good", None, lambda: "# of the yard\n" + roster_text(), verdict="sound")
rostered("roster-no-roles-is-good", None, lambda: roster_text().replace("roles: [operator]", "roles: []"), verdict="sound")
rostered("roster-merge-key", "roster", lambda: roster_text().replace("    name: Bo Tersen\n", "    <<: {name: Bo Tersen}\n"))
rostered("roster-over-512-kib", "roster", lambda: roster_text() + "#" * (512 * 1024))
rostered("roster-two-documents", "roster", lambda: roster_text() + "---\nroster: 1\n")
rostered("custodian-signature-bad", "custodian", roster_text, lambda text: signatures(text + "\n"))
rostered("custodian-not-of-this-roster", "custodian", roster_text,
         lambda text: signatures(text, (("keeper-one", "sha256"), ("a stranger", "sha256"))))
rostered("custodian-threshold-not-met", "custodian", roster_text, lambda text: signatures(text, (("keeper-one", "sha512"),)))
rostered("custodian-twice", "custodian", roster_text, lambda text: signatures(text)[:1] * 2)
rostered("custodian-signatures-descending", "custodian", roster_text, lambda text: signatures(text)[::-1])
rostered("custodian-hash-name-wrong", "custodian", roster_text,
         lambda text: [dict(s, hash="sha512" if s["hash"] == "sha256" else "sha256") for s in signatures(text)])
rostered("custodian-extra-signature-bad", "custodian", roster_text, lambda text: sorted(
    signatures(text) + signatures(text + "x", (("keeper-three", "sha256"),)), key=lambda s: s["key"]))
rostered("custodian-signature-malleable", "custodian", roster_text,
         lambda text: [dict(s, sign=plus_order(s["sign"])) for s in signatures(text)])

# 8 what a line refers to
inserted("person-declares-and-countersigns", "person", "declare2",
         ("declare", {}, ONE, {"by": "bo-tersen"}), ("countersign", valid(), ONE, {"by": "bo-tersen"}))
inserted("person-may-countersign-for-another-is-good", None, "declare2",
         ("declare", {}, ONE), ("countersign", valid(), ONE, {"by": "bo-tersen"}), verdict="sound")
case("target-of-countersign-an-older-declaration", "target", "countersign", "said",
     lambda s, b: s["data"].update(target=next(r["hash"] for r in b.records if r["kind"] == "declare")))
case("target-of-countersign-another-permit", "target", "c3", "said",
     lambda s, b: s["data"].update(target=b.last("declare", TWO)["hash"]))
case("target-of-refuse-wrong", "target", "refuse", "said", lambda s, b: s["data"].update(target=b.last("open", TWO)["hash"]))
case("target-of-close-the-declaration", "target", "close", "said", lambda s, b: s["data"].update(target=b.last("declare", ONE)["hash"]))
case("target-of-note-unknown", "target", "note", "said", data(target="ab" * 32))
case("target-of-stopped-unknown", "target", "stopped", "said", data(target="ab" * 32))
case("pprev-wrong", "pprev", "answer_out", "body", lambda body, book: body.update(pprev=book.last("open")["hash"]))
case("pprev-zeros-later", "pprev", "answer_out", "body", put(pprev=ZEROS))
case("pprev-not-zeros-on-open", "pprev", "open", "body", lambda body, book: body.update(pprev=body["prev"]))
case("pprev-of-the-act-over-an-answer", "pprev", "declare2", "said",
     lambda s, b: s.update(act_pprev=b.last("job")["hash"]))
case("pprev-of-the-act-another-permit", "pprev", "d2", "act", lambda act, b: act.update(pprev=b.last("note")["hash"]))
case("after-wrong", "after", "form2", "act", put(after=ZEROS))
case("after-of-another-subject", "after", "limits", "act", lambda act, b: act.update(after=b.last("site")["hash"]))
case("after-not-zeros-on-enrol", "after", "enrol", "act", put(after="1" * 64))
case("citation-form-hash", "citation", "form", "said", data(hash=sha("another text")))
case("citation-set-text-changed", "citation", "set", "said", data(text="set: hare-set \n"))
case("citation-open-old-form", "citation", "open", "said", lambda s, b: s["data"]["form"].update(hash=sha(TEXTS["pre1"])))
case("citation-open-unknown-form", "citation", "open", "said", lambda s, b: s["data"]["form"].update(id="other"))
case("citation-open-wrong-set", "citation", "open", "said", lambda s, b: s["data"]["set"].update(hash="ab" * 32))
case("citation-open-limits-for-site", "citation", "open", "said", lambda s, b: s["data"]["site"].update(hash=sha(TEXTS["limits"])))
case("citation-answer-rests-on-no-line", "citation", "answer", "said", data(rests_on=["ab" * 32]))
case("citation-answer-of-no-form", "citation", "answer", "said", data(form=sha("another text")))
case("number-reused", "number", "open2", "said", put(permit=ONE))
case("number-of-another-station", "number", "open2", "said", put(permit="TQ8-261125-02"))
case("number-of-another-day", "number", "open2", "said", put(permit="TQ7-261126-02"))
case("number-by-the-day-in-utc", "number", "open2", "said", put(zone="-14:00"))     # still the 24th there
case("number-by-the-day-of-the-site-is-good", None, "open2", "said", put(zone="-14:00", permit="TQ7-261124-02"), "sound", stop=0)
case("number-malformed", "number", "open2", "said", put(permit="TQ7-261125-2"))
case("number-never-opened", "number", "d2", "said", put(permit=SIX))


def token_part(n, change):
    def go(said, book):
        declared = book.records[-2]
        key = secret("sunniva-kade")
        stem = ["AW1", ONE, "".join(c for c in said["data"]["valid_to"] if c.isdigit())[:12], str(declared["seq"]),
                b32(bytes.fromhex(declared["hash"])), b32(hashlib.sha256(blob(public(key))).digest()[:8])]
        if n < 6:
            stem[n] = change(stem[n])
        signed = b32(sign(key, tbs("airwrit-token-v1", ".".join(stem).encode())))
        said["data"]["token"] = ".".join(stem + [change(signed) if n == 6 else signed])
    return go


case("token-is-good", None, "countersign", "said", token_part(6, lambda s: s), "sound", stop=0)
for _n, _name, _change in ((0, "name", lambda s: "AW2"), (1, "permit", lambda s: TWO), (2, "valid-to", lambda s: other(s)),
                           (3, "seq", lambda s: "1"), (4, "hash", lambda s: "B" + s[1:] if s[0] == "A" else "A" + s[1:]),
                           (5, "key", lambda s: "B" + s[1:] if s[0] == "A" else "A" + s[1:]),
                           (6, "signature", lambda s: ("B" if s[0] == "A" else "A") + s[1:]),
                           (6, "spare-bits", lambda s: s[:-1] + "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"[
                               "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567".index(s[-1]) | 1]),
                           (6, "lower-case", lambda s: s.lower()), (6, "padding", lambda s: s + "="),
                           (6, "more-after-it", lambda s: s + ".A"), (6, "cut", lambda s: s[:-8])):
    case("token-%s-wrong" % _name, "token", "countersign", "said", token_part(_n, _change))

# states
inserted("state-countersign-a-draft", "state", "declare2", ("countersign", valid(), ONE))
inserted("state-declare-twice", "state", "copy", ("declare", {}, ONE))
inserted("state-refuse-a-live-permit", "state", "reading", ("refuse", {"reason": "x"}, ONE))
inserted("state-job-on-a-live-permit", "state", "reading", ("job", {"job": {}}, ONE))
inserted("state-declare-a-live-permit", "state", "reading", ("declare", {}, ONE))
inserted("state-hand-back-a-draft", "state", "declare", ("hand_back", {}, ONE))
inserted("state-hand-back-with-somebody-on-its-tally", "state", "denied", ("hand_back", {}, ONE))
inserted("state-hand-back-left-running-with-somebody-on-its-own-tally", "state", "running",
         ("on_air", {"person": "jorn"}, ONE), ("hand_back", {"left_running": THREE}, ONE))
inserted("tally-is-by-set-and-person-is-good", None, "denied",
         ("off_air", {"person": "una", "set": SET}, None), ("off_air", {"person": "jorn", "set": SET}, None),
         ("hand_back", {}, ONE), verdict="sound")
inserted("tally-of-another-set-does-not-count-is-good", None, "shut5",
         ("on_air", {"person": "una", "set": "fox-set"}, None), ("answer", answered("down", value="nobody"), FIVE), ("hand_back", {}, FIVE),
         verdict="sound")
inserted("state-off-air-told-for-a-time-before-they-went-on", "state", "denied",
         ("off_air", {"person": "una", "at": at(0)}, ONE), ("off_air", {"person": "jorn", "at": at(0)}, ONE), ("hand_back", {}, ONE))
inserted("state-tally-the-same-name-on-another-set-is-somebody-else", "state", "denied",
         ("off_air", {"person": "una", "set": "fox-set"}, None), ("off_air", {"person": "jorn"}, ONE), ("hand_back", {}, ONE))
inserted("state-hand-back-over-the-tally-of-another-permit", "state", "running", ("hand_back", {}, ONE))
inserted("state-left-running-for-itself", "state", "running", ("hand_back", {"left_running": ONE}, ONE))
inserted("state-left-running-for-a-refused-permit", "state", "running", ("hand_back", {"left_running": TWO}, ONE))
inserted("state-left-running-for-an-unknown-permit", "state", "running", ("hand_back", {"left_running": SIX}, ONE))
inserted("state-left-running-for-a-suspended-permit", "state", "suspend3",
         ("suspend", {"reason": "x"}, THREE), ("open", opened(), SIX), ("declare", {}, SIX), ("countersign", valid(), SIX),
         ("hand_back", {"left_running": THREE}, SIX))
inserted("state-shutdown-answer-with-somebody-on-air", "state", "denied", ("answer", answered("down", value="nobody"), ONE))
inserted("state-shutdown-answer-with-somebody-out-still-on-air", "state", "off_air",
         ("off_air", {"person": "jorn"}, ONE), ("answer", answered("down", value="nobody"), ONE))
inserted("state-shutdown-answer-over-another-permits-tally", "state", "running", ("answer", answered("down", value="nobody"), ONE))
inserted("state-shutdown-answer-over-a-tally-without-permit", "state", "shut5",
         ("on_air", {"person": "una", "set": SET}, None), ("answer", answered("down", value="nobody"), FIVE))
inserted("state-shutdown-permit-answered-with-somebody-on-air", "state", "shut4",
         ("on_air", {"person": "una", "set": SET}, None), ("answer", answered("down", value="nobody"), FOUR))
inserted("state-shutdown-permit-handed-back-with-somebody-on-air", "state", "hand4",
         ("in", {"person": "una", "set": SET}, None), ("hand_back", {}, FOUR))
inserted("state-shutdown-permit-declared", "state", "shut4", ("declare", {}, FOUR))
inserted("state-cancel-with-somebody-on-air", "state", "denied", ("cancel", {"reason": "x"}, ONE))
inserted("state-cancel-a-closed-permit", "state", "suspend3", ("cancel", {"reason": "x"}, ONE))
inserted("state-answer-a-handed-back-permit", "state", "close", ("answer", answered(), ONE))
inserted("state-answer-a-refused-permit", "state", "open3", ("answer", answered(), TWO))
inserted("state-close-twice", "state", "suspend3", ("close", {}, ONE))
inserted("target-close-before-hand-back", "target", "running", ("close", {}, ONE))
inserted("target-countersign-before-any-declaration", "target", "declare", ("countersign", valid(target="ab" * 32), ONE))
inserted("state-answer-a-lapsed-permit", "state", "recovery", ("answer", answered(), SIX))
inserted("state-hand-back-a-lapsed-permit", "state", "recovery", ("hand_back", {}, SIX))
inserted("state-cancel-a-lapsed-permit", "state", "recovery", ("cancel", {"reason": "x"}, SIX))
inserted("lapsed-not-while-somebody-is-on-air-is-good", None, "note6",
         ("in", {"person": "una"}, SIX), ("note", {"words": "still in"}, SIX, {"after_minutes": 60}),
         ("answer", answered(), SIX), ("off_air", {"person": "una"}, SIX), verdict="sound")
inserted("lapsed-not-once-the-shutdown-is-begun-is-good", None, "note6",
         ("answer", answered("down", value="nobody"), SIX), ("hand_back", {}, SIX, {"after_minutes": 60}), verdict="sound")
inserted("state-lapsed-whatever-shutdown-was-given-up-before-the-issue", "state", "d6",
         ("answer", answered("down", value="nobody"), SIX), ("declare", {}, SIX), ("countersign", valid(80), SIX),
         ("hand_back", {}, SIX, {"after_minutes": 60}))


def at_minute(minute):
    return lambda book: book.add("answer", answered(), SIX, after_minutes=minute - book.minute)


case("lapsed-not-at-the-very-second-is-good", None, "note6", None, None, "sound", insert=at_minute(80))
case("state-lapsed-a-minute-later", "state", "note6", None, None, insert=at_minute(81))
HALT, ROLL = ("suspend", {"reason": "x"}, THREE), ("roll_call", {"found": ["jorn", "una"]}, THREE)
BACK = ("reinstate", {"cause": "the horn was leant on"}, THREE)
BY_OPERATOR = ("reinstate", {"cause": "the horn was leant on"}, THREE, {"by": "olia-brandt", "role": "operator"})


def told(what, **more):
    return ("event", dict(what=what, **more), None if "set" in more else THREE)


inserted("reinstated-after-a-roll-call-is-good", None, "on3", HALT, ROLL, BACK, HALT, ROLL, BACK, verdict="sound")
inserted("state-reinstate-a-live-permit", "state", "on3", ROLL, BACK)
inserted("state-reinstate-without-a-roll-call", "state", "on3", HALT, BACK)
inserted("state-reinstate-on-an-earlier-roll-call", "state", "on3", ROLL, HALT, BACK)
inserted("state-reinstate-with-somebody-missing", "state", "on3",
         HALT, ("roll_call", {"found": ["jorn"], "missing": ["una"]}, THREE), BACK)
inserted("state-roll-call-with-somebody-missing-suspends", "state", "on3",
         ("roll_call", {"missing": ["una"]}, THREE), ("roll_call", {"missing": ["una"], "set": SET}, None),
         ("hand_back", {"left_running": THREE}, ONE))
inserted("state-reinstate-over-somebody-on-the-set", "state", "on3", HALT, ROLL, ("on_air", {"person": "una"}, THREE), BACK)
inserted("state-reinstate-by-who-declared", "state", "on3", HALT, ROLL, BY_OPERATOR)
inserted("reinstated-by-the-operator-after-a-drill-is-good", None, "on3", HALT, told("drill"), ROLL, BY_OPERATOR, verdict="sound")
inserted("state-reinstated-by-the-operator-of-a-set-is-good", None, "on3",
         told("false_alarm", set=SET), ("roll_call", {"set": SET}, None), BY_OPERATOR, verdict="sound")
inserted("state-reinstated-by-the-operator-after-foul-air", "state", "on3", told("oil"), told("false_alarm"), ROLL, BY_OPERATOR)
inserted("state-reinstated-by-the-operator-after-a-move", "state", "on3", told("drill"),
         ("moved", {"date": "2026-11-25", "set": SET, "place": "north-quay"}, None), ROLL, BY_OPERATOR)
inserted("state-reinstated-by-the-operator-late", "state", "on3",
         told("false_alarm"), ROLL, (*BY_OPERATOR[:3], dict(BY_OPERATOR[3], after_minutes=15)))
inserted("state-reinstated-by-the-operator-thrice", "state", "on3",
         *[l for _ in range(3) for l in (told("drill"), ROLL, BY_OPERATOR)])
inserted("state-reinstated-by-the-operator-on-an-alarm-before", "state", "on3",
         told("false_alarm"), ROLL, BACK, HALT, ROLL, BY_OPERATOR)
inserted("relieved-in-any-state-is-good", None, "on3",
         ("relieve", {"from": "olia-brandt", "role": "attendant", "to": "una"}, THREE),
         ("relieve", {"from": "una", "role": "entry_watch", "to": "jorn", "breach": ["x"]}, TWO), verdict="sound")
inserted("state-job-takes-a-declared-permit-back", "state", "copy", ("job", {"job": {}}, ONE), ("countersign", valid(), ONE))
inserted("state-answer-takes-a-declared-permit-back", "state", "copy", ("answer", answered(step="guards", value="yes"), ONE), ("countersign", valid(), ONE))
inserted("state-event-takes-a-declared-permit-back", "state", "copy",
         ("event", {"what": "fire", "set": SET}, None), ("countersign", valid(), ONE))
inserted("state-move-takes-a-declared-permit-back", "state", "copy",
         ("moved", {"date": "2026-11-25", "set": SET, "place": "south-quay"}, None), ("countersign", valid(), ONE))
inserted("state-suspend-takes-a-declared-permit-back", "state", "copy",
         ("suspend", {"reason": "x"}, ONE), ("countersign", valid(), ONE))
inserted("state-suspend-of-the-set-takes-a-declared-permit-back", "state", "copy",
         ("suspend", {"reason": "x", "set": SET}, None), ("countersign", valid(), ONE))
inserted("event-on-another-set-changes-nothing-is-good", None, "copy",
         ("event", {"what": "fire", "set": "fox-set"}, None), ("countersign", valid(), ONE), verdict="sound")
inserted("suspend-of-one-permit-leaves-the-other-is-good", None, "on3",
         ("open", opened(), SIX), ("declare", {}, SIX), ("suspend", {"reason": "x"}, THREE), ("countersign", valid(), SIX),
         verdict="sound")
inserted("state-shutdown-suspends-the-other-permit", "state", "on3",
         ("answer", answered("down", value="nobody"), ONE), ("in", {"person": "jorn", "set": SET}, None),
         ("hand_back", {"left_running": THREE}, ONE))
inserted("reports-on-a-closed-permit-are-good", None, "suspend3",
         ("on_air", {"person": "una", "breach": ["the permit is closed"]}, ONE), ("in", {"person": "una"}, ONE),
         ("event", {"what": "fire"}, ONE), ("call_out", {}, ONE), ("out", {"person": "una"}, ONE),
         ("off_air", {"person": "una"}, ONE), ("suspend", {"reason": "x"}, ONE), ("note", {"words": "x"}, ONE), verdict="sound")
inserted("pprev-64-harmless-lines-between-are-good", None, "copy",
         *[("reading", {"what": "reserve", "unit": "bar", "value": str(n)}, ONE) for n in range(64)],
         ("countersign", valid(), ONE, {"damage": lambda s, b: s.update(act_pprev=b.last("declare", ONE)["hash"]), "layer": "said"}),
         verdict="sound")
inserted("pprev-65-harmless-lines-between", "pprev", "copy",
         *[("reading", {"what": "reserve", "unit": "bar", "value": str(n)}, ONE) for n in range(65)],
         ("countersign", valid(), ONE, {"damage": lambda s, b: s.update(act_pprev=b.last("declare", ONE)["hash"]), "layer": "said"}))
# answers given again, and answers left as they are
case("again-left-out", "again", "answer_again2", "body", drop("data", "again"))
inserted("again-of-another-item-is-no-second-answer-is-good", None, "declare2",
         ("answer", answered(value="203", unit="bar", item="B"), ONE), verdict="sound")
inserted("again-begun-after-done", "again", "ground", ("answer", answered(step="warm_up", value="begun"), THREE))
inserted("again-done-twice", "again", "ground", ("answer", answered(step="warm_up", value="done"), THREE))
inserted("again-in-the-shutdown", "again", "hand5", ("answer", answered("down", value="nobody"), FIVE))
inserted("again-by-another-form-is-a-first-answer-is-good", None, "hand5",
         ("answer", answered("down", value="yes", step="vented"), FIVE), verdict="sound")
case("kind-deviation-without-instead", "kind", "deviation", "body", drop("data", "deviation", "instead"))
case("kind-deviation-and-value", "kind", "deviation", "said", data(value="no"))
case("deviation-not-accepted", "deviation", "c3", "act", drop("data", "deviations"))
case("deviation-one-not-accepted", "deviation", "c3", "said", data(deviations=["ground"]))
case("deviation-accepted-that-nobody-left", "deviation", "c3", "said", data(deviations=["ground", "oil_level", "vents/1"]))
case("deviation-in-another-order", "deviation", "c3", "said", data(deviations=["vents/1", "ground"]))
case("deviation-without-limits", "deviation", "c3", "act", drop("data", "limits"))
case("deviation-with-empty-limits", "deviation", "c3", "said", data(limits={}))
case("deviation-accepted-on-a-permit-without", "deviation", "c5", "said", data(deviations=["ground"], limits={"wearers": 1}))
inserted("deviation-of-a-step-not-answered", "deviation", "d3", ("answer", answered(step="guards", deviation=slope()), THREE))
inserted("deviation-of-another-item", "deviation", "d3", ("answer", answered(step="vents", item="2", deviation=slope()), THREE))
inserted("deviation-twice", "deviation", "d3", ("answer", answered(step="ground", deviation=slope()), THREE))
inserted("deviation-of-what-was-left-out", "deviation", "declare2", ("answer", answered(item="C", deviation=slope()), ONE))
inserted("deviation-on-a-live-permit", "deviation", "on3", ("answer", answered(step="warm_up", deviation=slope()), THREE))
inserted("deviation-in-a-shutdown", "deviation", "hand5", ("answer", answered("down", deviation=slope()), FIVE))
inserted("state-deviation-takes-a-declared-permit-back", "state", "c3",
         ("answer", answered(step="warm_up", deviation=slope()), THREE), ("countersign", valid(), THREE))
inserted("deviation-over-once-answered-again-is-good", None, "d3",
         ("answer", answered(step="ground", value="yes", again="moved"), THREE), ("declare", {}, THREE),
         ("countersign", valid(limits={"wearers": 1}, deviations=["vents/1"]), THREE), verdict="sound")
inserted("deviation-again-on-a-new-answer-is-good", None, "d3",
         ("answer", answered(step="ground", value="no", again="moved"), THREE),
         ("answer", answered(step="ground", deviation=slope()), THREE), ("declare", {}, THREE),
         ("countersign", valid(limits={"wearers": 1}, deviations=["ground", "vents/1"]), THREE), verdict="sound")
inserted("state-close-with-somebody-on-air", "state", "close", ("in", {"person": "una"}, ONE), ("close", {}, ONE))
inserted("state-left-running-for-nobody-even-with-nobody-on-air", "state", "hand5", ("hand_back", {"left_running": TWO}, FIVE))
inserted("state-left-running-for-a-lapsed-permit", "state", "note6",
         ("open", opened(), "TQ7-261125-07"), ("declare", {}, "TQ7-261125-07"), ("countersign", valid(), "TQ7-261125-07"),
         ("hand_back", {"left_running": SIX}, "TQ7-261125-07", {"after_minutes": 40}))
inserted("state-lapsed-stays-so-when-somebody-goes-in", "state", "recovery",
         ("in", {"person": "una", "breach": ["the permit has lapsed"]}, SIX), ("answer", answered(), SIX))
inserted("state-lapsed-and-somebody-in-is-no-shutdown", "state", "recovery",
         ("in", {"person": "una"}, SIX), ("open", opened("down", "shutdown"), "TQ7-261125-07"),
         ("answer", answered("down", value="nobody"), "TQ7-261125-07"))
inserted("reports-on-a-lapsed-permit-are-good", None, "recovery",
         ("in", {"person": "una", "breach": ["the permit has lapsed"]}, SIX), ("event", {"what": "co"}, SIX), ("call_out", {}, SIX),
         ("out", {"person": "una"}, SIX), ("off_air", {"person": "una"}, SIX), ("suspend", {"reason": "x"}, SIX), verdict="sound")
inserted("state-told-without-permit-somebody-stays-on-theirs", "state", "running",
         ("in", {"person": "jorn"}, ONE), ("out", {"person": "jorn", "set": SET}, None), ("hand_back", {"left_running": THREE}, ONE))
inserted("tally-goes-over-to-another-permit-is-good", None, "running",
         ("in", {"person": "jorn"}, ONE), ("in", {"person": "jorn"}, THREE), ("hand_back", {"left_running": THREE}, ONE), verdict="sound")
inserted("rules-2-states-are-not-judged", "rules", "on_set", ("open", opened(rules=2), SEVEN), ("declare", {}, SEVEN),
         ("declare", {}, SEVEN), ("hand_back", {}, SEVEN), ("close", {}, SEVEN), ("answer", answered(), SEVEN),
         verdict="unproven", back=5)
inserted("rules-2-answered-with-somebody-on-air", "rules", "off_set", ("open", opened("down", "shutdown", 2), SEVEN),
         ("answer", answered("down", value="nobody"), SEVEN), verdict="unproven", back=1)
inserted("rules-2-signatures-are-still-judged", "person", "on_set", ("open", opened(rules=2), SEVEN), ("declare", {}, SEVEN),
         ("countersign", valid(), SEVEN, {"by": "olia-brandt", "role": "supervisor"}))
inserted("rules-2-left-running-for-it", "rules", "running", ("open", opened(rules=2), SEVEN),
         ("hand_back", {"left_running": SEVEN}, ONE), verdict="unproven", back=1)
inserted("rules-2-shutdown-suspends-the-others", "state", "running", ("open", opened(rules=2), SEVEN),
         ("answer", answered("down", value="nobody"), SEVEN), ("hand_back", {"left_running": THREE}, ONE))
case("rules-2", "rules", "open", "said", data(rules=2), "unproven", stop=3)


def lines_of(lines):
    return b"".join(lines)


# the file
filed("tail-no-line-feed", "tail", lambda l: (lines_of(l)[:-1], len(l) - 1))
filed("tail-cut-by-40-bytes", "tail", lambda l: (lines_of(l)[:-40], len(l) - 1))
filed("tail-one-byte-of-a-line", "tail", lambda l: (lines_of(l) + b"{", len(l)))
filed("tail-only-half-of-line-0", "tail", lambda l: (l[0][:500], 0))
filed("tail-empty-file", "tail", lambda l: (b"", 0))
filed("tail-cut-at-a-line-is-not-seen-from-here", None, lambda l: (lines_of(l[:-1]), None), "sound")
filed("seq-first-line-removed", "seq", lambda l: (lines_of(l[1:]), 0))
filed("seq-line-removed", "seq", lambda l: (lines_of(l[:9] + l[10:]), 9))
filed("seq-line-twice", "seq", lambda l: (lines_of(l[:10] + l[9:]), 10))
filed("seq-lines-exchanged", "seq", lambda l: (lines_of(l[:9] + [l[10], l[9]] + l[11:]), 9))
filed("frame-empty-line-at-the-end", "frame", lambda l: (lines_of(l) + b"\n", len(l)))
filed("frame-two-lines-in-one", "profile", lambda l: (lines_of(l[:9]) + l[9][:-1] + lines_of(l[10:]), 9))
filed("seal-first-line-of-another-register", "log", lambda l: (other_register()[0] + lines_of(l[1:]), 1))


def other_register():
    book = Book("77" * 16)
    book.add("enrol", enrolment())
    return book.lines


# one roster after another
def changed(who, **what):
    """Everybody, one of them otherwise."""
    new = person(who, *[what.pop("roles", ROLES[who])], **what)
    return [new if "id: %s\n" % who in p else p for p in PERSONS]


def without(who):
    return [p for p in PERSONS if "id: %s\n" % who not in p]


def key_added(who, word, **window):
    more = person("x", "operator", word, **window)
    more = more[more.index("      - key:"):]
    return [p + more if "id: %s\n" % who in p else p for p in PERSONS]


ROLES = {"edda-voss": "enroller", "pavel-ruun": "approver", "olia-brandt": "operator, attendant", "sunniva-kade": "supervisor",
         "rut-holm": "operator", "kim-sorel": "operator", "lis-arvo": "operator"}
BOTH = (("keeper-one", "sha256"), ("keeper-two", "sha512"))
FORM = ("form", {"form": "pre-start", "revision": 1, "text": TEXTS["pre1"]}, None)


def followed(name, rule, text, by=BOTH, signs=None, verdict="broken", then=(), back=0, label="moved"):
    """A `roster` line with this text, signed so; then other lines."""
    def go(book):
        book.add("roster", {"text": text, "signs": signatures(text, by) if signs is None else signs})
        added(book, then)
    case(name, rule, label, None, None, verdict, back, insert=go)


def renumbered(text, version=2, before=None):
    return text.replace("roster: 1", "roster: %d" % version, 1).replace(ZEROS, sha(roster_text()) if before is None else before, 1)


GOOD = next_roster()
followed("roster2-is-good", None, GOOD, verdict="sound", then=[FORM])
followed("roster2-signed-with-sha256-alone-is-good", None, GOOD, (("keeper-one", "sha256"), ("keeper-two", "sha256")), verdict="sound")
followed("roster2-signed-by-all-three-is-good", None, GOOD, BOTH + (("keeper-three", "sha512"),), verdict="sound")
followed("roster2-downgrade-to-the-first", "roster", roster_text())
followed("roster2-version-skipped", "roster", renumbered(roster_text(), 3))
followed("roster2-version-as-text", "roster", GOOD.replace("roster: 2", 'roster: "2"'))
followed("roster2-version-0", "roster", GOOD.replace("roster: 2", "roster: 0"))
followed("roster2-before-of-another", "roster", renumbered(roster_text(), 2, "1" * 64))
followed("roster2-before-zeros", "roster", renumbered(roster_text(), 2, ZEROS))
followed("roster2-before-too-short", "roster", renumbered(roster_text(), 2, "1" * 63))
followed("roster2-before-upper-case", "roster", renumbered(roster_text(), 2, sha(roster_text()).upper()))
followed("roster2-one-signature-of-two", "custodian", GOOD, BOTH[:1])
followed("roster2-a-stranger-signs", "custodian", GOOD, BOTH + (("mallory", "sha512"),))
followed("roster2-a-person-signs", "custodian", GOOD, BOTH + (("olia-brandt", "sha512"),))
followed("roster2-signatures-of-another-text", "custodian", GOOD, signs=signatures(GOOD + "# more\n"))
followed("roster2-signatures-out-of-order", "custodian", GOOD, signs=signatures(GOOD)[::-1])
followed("roster2-one-custodian-twice", "custodian", GOOD, signs=signatures(GOOD)[:1] * 2)
followed("roster2-hash-name-of-another-signature", "custodian", GOOD, signs=[
    dict(s, hash="sha256" if s["hash"] == "sha512" else "sha512") for s in signatures(GOOD)])
followed("roster2-in-the-namespace-of-acts", "custodian", GOOD, signs=sorted([
    {"hash": "sha512", "key": ssh(public(secret(w))), "sign": b64(sign(secret(w), tbs("airwrit-sign-v1", GOOD.encode(), "sha512")))}
    for w, _ in BOTH], key=lambda s: s["key"]))
followed("roster2-signature-malleable", "custodian", GOOD, signs=[dict(s, sign=plus_order(s["sign"])) for s in signatures(GOOD)])
NEW = next_roster(custodians=("new-one", "new-two"))
followed("roster2-too-few-of-the-old", "custodian", NEW, (("new-one", "sha512"), ("new-two", "sha512"), BOTH[0]))
followed("roster2-too-few-of-the-new", "custodian", NEW, BOTH + (("new-one", "sha512"),))
followed("roster2-of-both-is-good", None, NEW, BOTH + (("new-one", "sha512"), ("new-two", "sha256")), verdict="sound")
followed("roster2-old-threshold-counts-though-the-new-is-lower", "custodian", next_roster(threshold=1), BOTH[:1])
followed("roster2-new-threshold-counts-though-the-old-is-lower", "custodian", next_roster(threshold=3))
followed("roster2-person-dropped", "roster", next_roster(without("nan-ostrow")))
followed("roster2-key-dropped", "roster", next_roster(changed("pavel-ruun", word="another")))
followed("roster2-key-given-to-another-person", "roster", next_roster(
    changed("rut-holm", word="fresh") + [person("new-body", "operator", "rut-holm", revoked="{at: 2026-11-20T00:00:00Z, as: retired}")]))
followed("roster2-window-begins-earlier", "roster", next_roster(changed("pavel-ruun", from_="2025-12-31T00:00:00Z")))
followed("roster2-window-begins-later", "roster", next_roster(changed("pavel-ruun", from_="2026-01-02T00:00:00Z")))
followed("roster2-window-ends-later", "roster", next_roster(changed("pavel-ruun", to="2028-01-01T00:00:00Z")))
followed("roster2-window-ends-earlier-is-good", None, next_roster(changed("pavel-ruun", to="2027-01-01T00:00:00Z")), verdict="sound", then=[FORM])
followed("roster2-revocation-taken-back", "roster", next_roster(changed("rut-holm")))
followed("roster2-revocation-later", "roster", next_roster(changed("rut-holm", revoked="{at: 2026-11-21T00:00:00Z, as: retired}")))
followed("roster2-revocation-softened", "roster", next_roster(changed("kim-sorel", revoked="{at: 2026-11-20T00:00:00Z, as: retired}")))
followed("roster2-revocation-hardened-is-good", None, next_roster(changed("rut-holm", revoked="{at: 2026-11-19T00:00:00Z, as: compromised}")),
         verdict="sound")
followed("roster2-custodian-becomes-a-person", "roster", next_roster(PERSONS + [person("new-body", "operator", "keeper-three")],
                                                                    custodians=("keeper-one", "keeper-two")))
followed("roster2-person-becomes-a-custodian", "roster", next_roster(custodians=("keeper-one", "keeper-two", "olia-brandt")))
followed("roster2-key-twice", "roster", next_roster(PERSONS + [person("new-body", "operator", "olia-brandt")]))
followed("roster2-custodian-twice", "roster", next_roster(custodians=("keeper-one", "keeper-two", "keeper-two")))
followed("roster2-weak-key", "roster", next_roster(key_added("olia-brandt", "weak")).replace(ssh(public(secret("weak"))), ssh(NEUTRAL)))
followed("roster2-person-twice", "roster", next_roster(PERSONS + [person("olia-brandt", "operator", "x")]))
followed("roster2-id-in-look-alike-letters", "roster", next_roster(PERSONS + [person("olia-brandt", "operator", "x").replace("olia", "\u043elia")]))
followed("roster2-name-with-a-direction-mark", "profile", GOOD.replace("Olia Brandt", "Olia\u202e Brandt"))
followed("roster2-name-in-look-alike-letters-is-another-person-is-good", None, next_roster(
    PERSONS + [person("new-body", "operator").replace("New Body", "\u041elia Brandt")]), verdict="sound")
followed("roster2-threshold-out-of-reach", "roster", next_roster(threshold=4))
followed("roster2-no-yaml", "roster", "roster: [2\n")
followed("roster2-twice", "roster", GOOD, then=[("roster", {"text": GOOD, "signs": signatures(GOOD)}, None)])
followed("roster2-replay-of-the-first-afterwards", "roster", GOOD, then=[("roster", {"text": roster_text(), "signs": signatures(roster_text())}, None)])
followed("roster2-then-another-second", "roster", GOOD, then=[("roster", {"text": renumbered(roster_text()), "signs": signatures(renumbered(roster_text()))}, None)])
THIRD = next_roster(version=3, before=sha(GOOD))
followed("roster3-is-good", None, GOOD, verdict="sound", then=[("roster", {"text": THIRD, "signs": signatures(THIRD)}, None), FORM])
followed("roster2-old-hash-on-the-next-line", "roster", GOOD, then=[
    ("plugged", {"date": "2026-11-25", "set": SET, "supply_point": "pillar-3"}, None,
     {"damage": lambda body, book: body.update(roster=sha(roster_text())), "layer": "body"})])
followed("roster2-new-hash-on-its-own-line", "roster", GOOD, then=[
    ("roster", {"text": THIRD, "signs": signatures(THIRD)}, None,
     {"damage": lambda body, book: body.update(roster=sha(THIRD)), "layer": "body"})])
case("kind-roster-with-an-act", "kind", "roster", "body", put(act={}, act_sign="x"))
case("kind-roster-signs-empty", "kind", "roster", "said", data(signs=[]))
case("kind-roster-hash-name", "kind", "roster", "said", lambda s, b: s["data"]["signs"][0].update(hash="sha384"))
followed("window-key-retired-by-the-second-version", "window", next_roster(
    changed("pavel-ruun", revoked="{at: %s, as: retired}" % at(8))), then=[FORM])
followed("key-new-in-the-second-version-is-good", None, next_roster(key_added("pavel-ruun", "pavel anew")), verdict="sound",
         then=[("form", FORM[1], None, {"damage": put(sign_with="pavel anew"), "layer": "said"})])
followed("person-no-longer-in-that-role", "person", next_roster(changed("pavel-ruun", roles="tester")), then=[FORM])
followed("person-new-in-the-second-version-is-good", None, next_roster(PERSONS + [person("new-body", "approver")]), verdict="sound",
         then=[("form", FORM[1], None, {"by": "new-body"})])
case("person-of-the-second-version-before-it-is-in-force", "person", "form", "said", put(by="new-body"))
followed("compromised-in-the-second-version", "compromised", next_roster(
    changed("pavel-ruun", revoked="{at: 2026-12-01T00:00:00Z, as: compromised}")), verdict="unproven", back=6)
followed("retired-before-it-signed-as-the-second-version-says", "retired", next_roster(
    changed("pavel-ruun", revoked="{at: %s, as: retired}" % at(4))), verdict="unproven", back=4)
followed("retired-after-it-signed-is-good", None, next_roster(
    changed("pavel-ruun", revoked="{at: %s, as: retired}" % second(7, 1))), verdict="sound")
followed("retired-at-that-very-second", "retired", next_roster(
    changed("pavel-ruun", revoked="{at: %s, as: retired}" % at(7))), verdict="unproven", back=1)
followed("retired-window-cut-short", "retired", next_roster(changed("pavel-ruun", to=second(6, 59))), verdict="unproven", back=1)

# rosters given from outside: {"later": [(text, signs)]} beside the register
OUTSIDE = []    # (name, verdict, rule, line, later)


def outside(name, verdict, rule, line, *later):
    OUTSIDE.append((name, verdict, rule, line, [(text, signatures(text, by)) for text, by in later]))


SECOND = GOOD                                   # the one that the day takes in
AFTER = next_roster(version=3, before=sha(GOOD))
KADE = next_roster(changed("pavel-ruun", revoked="{at: 2026-12-24T00:00:00Z, as: compromised}"), version=3, before=sha(GOOD))
outside("outside-the-same-version-is-good", "sound", None, None, (SECOND, BOTH))
outside("outside-the-first-version-is-good", "sound", None, None, (roster_text(), BOTH))
outside("outside-a-later-version-is-good", "sound", None, None, (AFTER, BOTH))
outside("outside-compromised", "unproven", "compromised", 1, (KADE, BOTH))
outside("outside-retired-before", "unproven", "retired", 1, (next_roster(
    changed("pavel-ruun", revoked="{at: 2026-11-24T00:00:00Z, as: retired}"), version=3, before=sha(GOOD)), BOTH))
outside("outside-too-few-signed", "unproven", "roster", None, (KADE, BOTH[:1]))
outside("outside-another-of-the-same-number", "unproven", "roster", None, (renumbered(roster_text()), BOTH))
outside("outside-another-first", "unproven", "roster", None, (roster_text(threshold=1), BOTH))
outside("outside-a-version-between-is-missing", "unproven", "roster", None, (next_roster(version=4, before=sha(AFTER)), BOTH))
outside("outside-two-in-order-is-good", "sound", None, None, (next_roster(version=4, before=sha(AFTER)), BOTH), (AFTER, BOTH))
outside("outside-person-dropped", "unproven", "roster", None, (next_roster(without("nan-ostrow"), version=3, before=sha(GOOD)), BOTH))

# the clock
case("clock-last-wrong", "time", "clock", "said", data(last=at(1)))
case("clock-after-wrong", "after", "clock2", "act", put(after=ZEROS))
case("clock-by-an-operator", "person", "clock", "said", put(by="olia-brandt", role="operator"))
inserted("clock-suspends-what-is-live", "state", "running", ("clock", {"reason": "x"}, None, {"after_minutes": -5}),
         ("hand_back", {"left_running": THREE}, ONE))
inserted("clock-what-had-lapsed-stays-so", "state", "recovery", ("clock", {"reason": "x"}, None, {"after_minutes": -60}),
         ("answer", answered(), SIX))
inserted("clock-what-had-not-lapsed-lives-on-suspended-is-good", None, "note6", ("clock", {"reason": "x"}, None, {"after_minutes": -5}),
         ("answer", answered(), SIX), verdict="sound")
case("time-earlier-than-a-line-that-set-the-clock", "time", "last", "body", put(time=at(0)))

# reports that were written aside
def aside(*entries):
    return ("recovery", {"aside": [dict({"at": at(9), "id": "%032x" % n}, **e) for n, e in enumerate(entries)]}, None)


inserted("aside-of-no-permit-here", "number", "copy", aside({"kind": "call_out", "data": {}, "permit": SIX}))
inserted("aside-suspends", "state", "running", aside({"kind": "suspend", "data": {"reason": "x"}, "permit": THREE}),
         ("hand_back", {"left_running": THREE}, ONE))
inserted("aside-somebody-goes-in", "state", "hand5", aside({"kind": "in", "data": {"person": "una"}, "permit": FIVE}), ("hand_back", {}, FIVE))
inserted("aside-somebody-in-and-off-is-good", None, "hand5", aside({"kind": "in", "data": {"person": "una"}, "permit": FIVE},
                                                                   {"kind": "off_air", "data": {"person": "una", "set": SET}}),
         ("hand_back", {}, FIVE), verdict="sound")
inserted("aside-event-takes-a-declared-permit-back", "state", "copy", aside({"kind": "event", "data": {"what": "fire", "set": SET}}),
         ("countersign", valid(), ONE))
inserted("kind-aside-of-a-signed-kind", "kind", "copy", aside({"kind": "declare", "data": {}, "permit": ONE}))
inserted("kind-aside-answer", "kind", "copy", aside({"kind": "answer", "data": answered(), "permit": ONE}))
inserted("kind-aside-with-permit-and-set", "kind", "copy", aside({"kind": "call_out", "data": {"set": SET}, "permit": ONE}))
inserted("kind-aside-with-neither", "kind", "copy", aside({"kind": "call_out", "data": {}}))
inserted("kind-aside-member-unknown", "kind", "copy", aside({"kind": "call_out", "data": {"x": "y"}, "permit": ONE}))
case("kind-recovery-both", "kind", "aside", "said", data(hash="1" * 64, length=3))
case("kind-recovery-neither", "kind", "recovery", "said", lambda s, b: s.update(data={}))

# later volumes
VOLUMES = []    # (name, verdict, rule, volume, line, function giving the bytes of each volume)


def volume(name, rule, verdict="broken", at_volume=2, line=0, before=None, damage=None, layer=None, then=(), only=(0, 1),
           text=None, keys=BOTH, stop="running", late=1, more=(), log="6f" * 16, torn=0, story=the_day, **enrol):
    def make():
        first, _ = write(stop, insert=lambda book: book.add("note", {"words": "the last line here", "set": SET}), story=story)
        added(first, more)
        last = first.last()
        book = first.next_volume(log)
        named = {"log": first.log, "seq": last["seq"], "head": last["hash"]}
        d = enrolment(text, None if text is None else signatures(text, keys))
        d["before"] = named if before is None else before(dict(named))
        if d["before"] == "none":
            del d["before"]
        book.add("enrol", d, damage=damage, layer=layer, after_minutes=late, **enrol)
        added(book, then)
        both = [b"".join(first.lines), b"".join(book.lines)]
        both[0] = both[0][:len(both[0]) - torn]
        return [both[i] for i in only]
    VOLUMES.append((name, verdict, rule, at_volume, line, make))


volume("volume2-is-good", None, "sound", then=[("off_air", {"person": "una"}, THREE), ("hand_back", {}, THREE)])
volume("volume2-suspends-what-is-live", "state", line=1, then=[("hand_back", {"left_running": THREE}, ONE)])
volume("volume2-keeps-the-tally", "state", line=1, then=[("hand_back", {}, THREE)])
volume("volume2-texts-go-on-being-in-force-is-good", None, "sound", then=[("open", opened(), SIX)])
volume("volume2-after-begins-anew-is-good", None, "sound", then=[("form", {"form": "pre-start", "revision": 3, "text": "x: 3\n"}, None)])
volume("volume2-act-on-a-line-of-the-first-is-good", None, "sound", stop="close",
       then=[("close", {}, ONE)])
volume("volume2-clock-begins-anew-is-good", None, "sound", then=[("clock", {"reason": "x"}, None, {"after_minutes": -3})])
volume("volume2-head-of-another", "before", before=lambda b: dict(b, head="1" * 64))
volume("volume2-seq-of-an-earlier-line", "before", before=lambda b: dict(b, seq=b["seq"] - 1))
volume("volume2-says-lost-what-is-here", "before", before=lambda b: {"lost": "fell into the dock"})
volume("volume2-names-nothing-before", "before", before=lambda b: "none")
volume("volume2-before-half", "before", before=lambda b: {"log": b["log"]})
volume("volume2-before-and-lost", "before", before=lambda b: dict(b, lost="x"))
volume("volume2-the-same-log-again", "log", log="5e" * 16)
volume("volume2-earlier-than-the-first", "time", late=-30)
volume("volume2-alone", "volume", "unproven", at_volume=1, only=(1,), then=[("off_air", {"person": "una"}, THREE)])
volume("volume2-alone-lines-of-unknown-permits-are-not-judged", "volume", "unproven", at_volume=1, only=(1,),
       then=[("hand_back", {}, THREE), ("hand_back", {}, THREE), ("open", opened(), SIX), ("declare", {}, SIX)])
volume("volume2-alone-is-still-judged-for-what-it-opens", "state", at_volume=1, line=3, only=(1,),
       then=[("open", opened(), SIX), ("declare", {}, SIX), ("declare", {}, SIX)])
volume("volume2-alone-lost", "volume", "unproven", at_volume=1, only=(1,), before=lambda b: {"lost": "fell into the dock"})
volume("volume2-of-another-history", "volume", "unproven", before=lambda b: dict(b, log="12" * 16))
volume("volume2-first", "before", at_volume=2, line=0, only=(1, 0))
volume("volume2-the-next-roster-is-good", None, "sound", text=GOOD)
volume("volume2-the-next-roster-unsigned-by-the-old", "custodian", text=NEW, keys=(("new-one", "sha512"), ("new-two", "sha512")))
volume("volume2-roster-of-a-person-dropped", "roster", text=next_roster(without("nan-ostrow")))
volume("volume2-roster-of-the-same-number", "roster", text=roster_text(threshold=1))
volume("volume2-an-older-roster", "roster", text=roster_text(), more=[("roster", {"text": GOOD, "signs": signatures(GOOD)}, None)])
volume("volume2-by-no-enroller", "person", by="olia-brandt", role="enroller")
volume("volume2-after-a-torn-first", "tail", at_volume=1, line=-1, torn=9)
