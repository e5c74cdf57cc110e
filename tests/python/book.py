"""A small writer of registers for tests: it signs acts and seals lines, and lets a test reach in at
every layer (what is said, the act, the body, its bytes, the line) before the layer is closed, so that
damage stands under good signatures and seals and only the rule in question can find it.
Every person, site, set, key and figure is invented. The same bytes on every run.
"""
import base64
import datetime
import hashlib
import json

from signer import b32, b64, blob, fingerprint, public, secret, sign, ssh, tbs

ZEROS = "0" * 64
SIGNERS = {"enrol": "enroller", "site": "approver", "set": "approver", "form": "approver",
           "declare": "operator", "hand_back": "operator",
           "countersign": "supervisor", "refuse": "supervisor", "close": "supervisor", "cancel": "supervisor",
           "reinstate": "supervisor",
           "extend": "operator", "hand_over": "operator",
           "clock": "supervisor"}
PEOPLE = {"enroller": "edda-voss", "approver": "pavel-ruun", "operator": "olia-brandt", "supervisor": "sunniva-kade"}
START = datetime.datetime(2026, 11, 25, 5, 0, 0)


def sha(data):
    return hashlib.sha256(data.encode() if isinstance(data, str) else data).hexdigest()


def canonical(value):
    """RFC 8785 within the profile: ASCII names sort as bytes, integers only, three escapes."""
    if isinstance(value, dict):
        return "{" + ",".join('"%s":%s' % (k, canonical(value[k])) for k in sorted(value)) + "}"
    if isinstance(value, list):
        return "[" + ",".join(canonical(v) for v in value) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
    return json.dumps(value)


def at(minutes):
    return (START + datetime.timedelta(minutes=minutes)).strftime("%Y-%m-%dT%H:%M:%SZ")


def person(name, roles, word=None, from_="2026-01-01T00:00:00Z", to="2027-12-31T23:59:59Z", revoked=""):
    return ("  - id: %s\n    name: %s\n    roles: [%s]\n    competence: 2027-03-31\n    keys:\n"
            "      - key: %s\n        from: %s\n        to: %s\n%s"
            % (name, name.replace("-", " ").title(), roles, ssh(public(secret(word or name))), from_, to,
               "        revoked: " + revoked + "\n" if revoked else ""))


def roster_text(custodians=("keeper-one", "keeper-two", "keeper-three"), threshold=2, persons=None, version=1, before=ZEROS):
    return ("roster: %s\nbefore: \"%s\"\nthreshold: %s\ncustodians:\n" % (version, before, threshold)
            + "".join("  - %s\n" % ssh(public(secret(c))) for c in custodians)
            + "persons:\n" + "".join(PERSONS if persons is None else persons))


PERSONS = [
    person("edda-voss", "enroller"),
    person("pavel-ruun", "approver"),
    person("olia-brandt", "operator, attendant"),
    person("sunniva-kade", "supervisor"),
    person("bo-tersen", "operator, supervisor"),        # may do both, never on one permit
    person("nan-ostrow", "operator", to="2026-11-24T23:59:59Z"),
    person("ivo-late", "operator", from_="2026-11-26T00:00:00Z"),
    person("rut-holm", "operator", revoked="{at: 2026-11-20T00:00:00Z, as: retired}"),
    person("kim-sorel", "operator", revoked="{at: 2026-11-20T00:00:00Z, as: compromised}"),
    person("lis-arvo", "operator", revoked="{at: 2026-12-20T00:00:00Z, as: compromised}"),
]


def signatures(text, by=(("keeper-one", "sha256"), ("keeper-two", "sha512"))):
    signs = [{"hash": h, "key": ssh(public(secret(w))),
              "sign": b64(sign(secret(w), tbs("airwrit-roster-v1", text.encode(), h)))} for w, h in by]
    return sorted(signs, key=lambda s: s["key"])


class Book:
    """A register being written; `lines` are whole lines with their LF."""

    def __init__(self, log="5e" * 16):
        self.log, self.lines, self.records, self.minute, self.roster = log, [], [], 0, None
        self.named = {}             # what a story calls a line -> its record

    def next_volume(self, log="6f" * 16):
        """A later volume of the same history: its lines are counted anew."""
        later = Book(log)
        later.records, later.minute, later.roster, later.named = list(self.records), self.minute, self.roster, self.named
        return later

    def seal_secret(self, seq):
        return secret("seal %s %d" % (self.log, seq))

    def last(self, kind=None, permit=None):
        """The last record of a kind, of a permit: its seq, hash, kind, permit, subject, data."""
        for r in reversed(self.records):
            if kind in (None, r["kind"]) and permit in (None, r["permit"]):
                return r
        return {"hash": ZEROS, "seq": 0}

    def add(self, kind, data=None, permit=None, by=None, role=None, key=None, after_minutes=1,
            act_pprev=None, act_late=0, damage=None, layer=None):
        """One line. `damage` is called at its `layer` (said, act, body, text, line) with what is there
        and this book; it changes it in place or returns the new bytes."""
        def hurt(where, value):
            if layer != where:
                return value
            out = damage(value, self)
            return value if out is None else out

        self.minute += after_minutes
        now, seq = at(self.minute), len(self.lines)
        data = dict(data or {})
        said = {"kind": kind, "data": data, "permit": permit, "by": by, "role": role, "key": key,
                "act_time": at(self.minute - act_late), "act_pprev": act_pprev, "sign_with": None,
                "act_namespace": "airwrit-sign-v1", "next": None, "zone": "+01:00"}
        signed = kind in SIGNERS
        if signed:
            usual = "supervisor" if data.get("part") == "given" else SIGNERS[kind]
            said["role"] = role or usual
            said["by"] = by or PEOPLE[usual]
            data.setdefault("said", "I have looked at this \"in person\" \\ and sign.\nLine two, été.")
            data.setdefault("where", "station")
            if kind in ("form", "set", "site"):
                data.setdefault("hash", sha(data["text"]))
            if kind in ("countersign", "refuse"):
                data.setdefault("target", self.last("declare", permit)["hash"])
            if data.get("part") in ("given", "incoming"):
                data.setdefault("target", self.last(kind, permit)["hash"])
            if kind == "clock":
                data.setdefault("last", self.last()["time"])
            if kind == "close":
                data.setdefault("target", self.last("hand_back", permit)["hash"])
        if kind == "enrol":
            self.roster = data["roster"]["text"]
            data.setdefault("seal", public(self.seal_secret(0)).hex())
        hurt("said", said)
        data, permit = said["data"], said["permit"]
        if kind == "enrol":
            self.roster = data["roster"]["text"]
        person_secret = secret(said["sign_with"] or said["by"] or "-")
        pprev = self.last(permit=permit)["hash"] if permit else None
        shown = self.last(permit=permit) if permit else None
        if said["act_pprev"]:
            shown = next((r for r in self.records if r["hash"] == said["act_pprev"]), shown)
        body = {"kind": said["kind"], "log": self.log, "next": said["next"] or public(self.seal_secret(seq + 1)).hex(),
                "prev": self.last()["hash"] if seq else ZEROS, "roster": sha(self.roster), "seq": seq, "time": now, "v": 1,
                "zone": said["zone"]}
        if permit:
            body.update(permit=permit, pprev=pprev)
        subject = (kind, data.get(kind), data.get("what"))
        if signed:
            if kind == "countersign" or data.get("part") == "given":
                key_blob = blob(public(person_secret))
                stem = ".".join(("AW1", permit, "".join(c for c in data["valid_to"] if c.isdigit())[:12],
                                 str(shown["seq"]), b32(bytes.fromhex(shown["hash"])),
                                 b32(hashlib.sha256(key_blob).digest()[:8])))
                data.setdefault("token", stem + "." + b32(sign(person_secret, tbs("airwrit-token-v1", stem.encode()))))
            act = {"by": said["by"], "data": data, "key": said["key"] or fingerprint(public(person_secret)),
                   "kind": said["kind"], "log": self.log, "role": said["role"], "time": said["act_time"], "v": 1}
            if permit:
                act.update(permit=permit, pprev=said["act_pprev"] or pprev)
            else:
                same = [r for r in self.records if r["subject"] == subject and r["log"] == self.log and kind != "enrol"]
                act["after"] = same[-1]["hash"] if same else ZEROS
            hurt("act", act)
            p = sign(person_secret, tbs(said["act_namespace"], canonical(act).encode()))
            body.update(act=act, act_sign=b64(p))
        else:
            body["data"] = data
            body.update({k: v for k, v in (("by", said["by"]), ("role", said["role"])) if v})
        hurt("body", body)
        raw = hurt("text", canonical(body).encode())
        line = b'{"body":' + raw + b',"seal":"' + b64(sign(self.seal_secret(seq), tbs("airwrit-seal-v1", raw))).encode() + b'"}\n'
        line = hurt("line", line)
        if kind == "roster":
            self.roster = data.get("text", self.roster)
        self.lines.append(line)
        self.records.append({"seq": seq, "hash": sha(line[:-1]), "kind": kind, "permit": permit,
                             "subject": subject, "data": data, "log": self.log, "time": now})
        return self.records[-1]


def armour(sign):
    """A signature of a roster as stock ssh-keygen writes it beside the file (PROTOCOL.sshsig)."""
    def string(b):
        return len(b).to_bytes(4, "big") + b
    out = b"SSHSIG\0\0\0\1" + string(base64.b64decode(sign["key"].split()[1])) + string(b"airwrit-roster-v1") + string(b"")
    out += string(sign["hash"].encode()) + string(string(b"ssh-ed25519") + string(base64.b64decode(sign["sign"])))
    text = b64(out)
    lines = [text[i:i + 70] for i in range(0, len(text), 70)]
    return "-----BEGIN SSH SIGNATURE-----\n%s\n-----END SSH SIGNATURE-----\n" % "\n".join(lines)
