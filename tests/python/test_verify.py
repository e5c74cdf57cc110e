"""Tests of examples/verify.py: python3 -m unittest discover -s tests/python

Signature vectors: RFC 8032 section 7.1. The corpus (corpus.py): one register per way to be wrong. Then
every bit of a short register flipped, every place it can be cut, and every value in every line
replaced under good signatures: all refused, none with a crash.
"""
import contextlib
import hashlib
import io
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import unittest

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path[:0] = [HERE, os.path.join(HERE, "..", "..", "examples")]
import book  # noqa: E402
import changes  # noqa: E402
import corpus  # noqa: E402
import day  # noqa: E402
import remember  # noqa: E402
import signer  # noqa: E402
import turns  # noqa: E402
import turns_ways  # noqa: E402
import verify  # noqa: E402
import ways  # noqa: E402

STRICT = verify.verify_strict
KEEPER = signer.fingerprint(signer.public(signer.secret("keeper-one")))

# RFC 8032 section 7.1: TEST 1, TEST 2, TEST 3, TEST SHA(abc). secret, public, message, signature.
RFC_8032 = [
    ("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
     "d25bf5f0595bbe24655141438e7a100b"),
    ("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
     "387b2eaeb4302aeeb00d291612bb0c00"),
    ("c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
     "4a7c15e9716ed28dc027beceea1ec40a"),
    ("833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
     "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
     hashlib.sha512(b"abc").hexdigest(),
     "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e030"
     "3dca179c138ac17ad9bef1177331a704"),
]


def judge(raw, custodians=(), threshold=None, later=(), excerpt=False):
    volumes = raw if isinstance(raw, list) else [raw]
    later = [(verify.Roster(text), signs) for text, signs in later]
    return verify.verify([io.BytesIO(v) for v in volumes], custodians, threshold, later, excerpt)


class Remembered(unittest.TestCase):
    """What was checked already is remembered, so that long tests check each new thing once."""

    def setUp(self):
        self.addCleanup(remember.remember(verify))


class Ed25519(unittest.TestCase):
    def test_rfc_8032_vectors(self):
        for sk, pk, message, sign in (tuple(map(bytes.fromhex, v)) for v in RFC_8032):
            self.assertEqual(signer.public(sk), pk)
            self.assertEqual(signer.sign(sk, message), sign)
            self.assertTrue(STRICT(pk, message, sign))
            self.assertFalse(STRICT(pk, message + b"x", sign))
            for bit in range(512):
                bad = bytearray(sign)
                bad[bit // 8] ^= 1 << bit % 8
                self.assertFalse(STRICT(pk, message, bytes(bad)))

    def test_s_plus_the_order_is_refused(self):
        pk, message, sign = (bytes.fromhex(v) for v in RFC_8032[1][1:])
        for n in range(1, 16):
            s = int.from_bytes(sign[32:], "little") + n * signer.L
            if s < 2**256:
                self.assertFalse(STRICT(pk, message, sign[:32] + s.to_bytes(32, "little")))

    @staticmethod
    def small_points():
        """The eight points of small order: L times any point of the curve is one of them."""
        found, y = {}, 2
        while len(found) < 8:
            point = verify.decode_point(y.to_bytes(32, "little"))
            if point:
                small = signer.times(signer.L, point[:3])
                for n in range(8):
                    many = signer.times(n, small)
                    found[signer.encode(many)] = many
            y += 1
        return found

    def test_small_order_keys_and_r_are_refused(self):
        small = self.small_points()
        self.assertEqual(len(small), 8)
        sk = signer.secret("x")
        for encoded, point in small.items():
            self.assertFalse(verify.strong_key(encoded))
            for n in range(16):     # for some of these messages a lenient equation holds
                self.assertFalse(STRICT(encoded, b"%d" % n, signer.public(sk) + signer.sign(sk, b"")[32:]))
                self.assertFalse(STRICT(encoded, b"%d" % n, encoded + bytes(32)))
                self.assertFalse(STRICT(encoded, b"%d" % n, (1).to_bytes(32, "little") + bytes(32)))
            # R of small order under a good key: S = k a fits the equation for R = neutral.
            a, _, pk = signer.expand(sk)
            k = int.from_bytes(hashlib.sha512(encoded + pk + b"m").digest(), "little") % signer.L
            self.assertFalse(STRICT(pk, b"m", encoded + (k * a % signer.L).to_bytes(32, "little")))

    def test_the_equation_is_the_one_without_cofactor(self):
        """R moved by a point of small order: eight times the equation still holds, once it does not."""
        a, _, pk = signer.expand(signer.secret("y"))
        for encoded, point in self.small_points().items():
            r = 12345
            big_r = signer.encode(signer.add(signer.times(r, signer.B), point))
            k = int.from_bytes(hashlib.sha512(big_r + pk + b"m").digest(), "little") % signer.L
            sign = big_r + ((r + k * a) % signer.L).to_bytes(32, "little")
            self.assertEqual(STRICT(pk, b"m", sign), encoded == ways.NEUTRAL)

    def test_encodings_that_are_not_canonical_are_no_points(self):
        for y in range(verify.P, 2**255):
            for sign in (0, 1 << 255):
                self.assertIsNone(verify.decode_point((y + sign).to_bytes(32, "little")))
        for y in (1, verify.P - 1):     # x is 0 there: a minus sign has no meaning
            self.assertIsNotNone(verify.decode_point(y.to_bytes(32, "little")))
            self.assertIsNone(verify.decode_point((y + (1 << 255)).to_bytes(32, "little")))

    @unittest.skipUnless(shutil.which("ssh-keygen"), "no ssh-keygen here")
    def test_what_is_signed_is_what_openssh_signs(self):
        """Stock `ssh-keygen -Y verify` accepts our blob, with either hash."""
        sk = signer.secret("olia-brandt")
        for name in ("sha256", "sha512"):
            sign = signer.sign(sk, verify.signed_blob("airwrit-sign-v1", b"words", name))
            out = b"SSHSIG" + (1).to_bytes(4, "big")
            wire = b"".join(len(p).to_bytes(4, "big") + p for p in (b"ssh-ed25519", sign))
            for part in (signer.blob(signer.public(sk)), b"airwrit-sign-v1", b"", name.encode(), wire):
                out += len(part).to_bytes(4, "big") + part
            with tempfile.TemporaryDirectory() as folder:
                with open(os.path.join(folder, "s.sig"), "w") as f:
                    f.write("-----BEGIN SSH SIGNATURE-----\n%s\n-----END SSH SIGNATURE-----\n" % signer.b64(out))
                with open(os.path.join(folder, "allowed"), "w") as f:
                    f.write("olia %s\n" % signer.ssh(signer.public(sk)))
                done = subprocess.run(["ssh-keygen", "-Y", "verify", "-f", "allowed", "-I", "olia", "-n", "airwrit-sign-v1",
                                       "-s", "s.sig"], input=b"words", cwd=folder, capture_output=True)
                self.assertEqual(done.returncode, 0, done.stderr)


class Corpus(Remembered):
    def test_every_register_gets_its_verdict(self):
        names, rules = set(), set()
        for name, raw, expected in corpus.corpus():
            with self.subTest(name):
                self.assertNotIn(name, names)
                names.add(name)
                verdict, findings = judge(raw, expected["custodians"], expected["threshold"], expected.get("later", ()),
                                          "excerpt" in expected)
                got = (verdict,) + ((findings[0][1], findings[0][0]) if findings else (None, None))
                place, volume = expected["line"], expected.get("volume", 1)
                place = place if volume == 1 or place is None else "%d:%d" % (volume, place)
                self.assertEqual(got, (expected["verdict"], expected["rule"], place), findings)
                rules.add(expected["rule"])
        self.assertEqual(rules - {None}, set(
            "frame base64 profile version log seq prev time roster seal kind act signature person key window target "
            "pprev after citation token state again deviation custodian compromised retired rules tail number before volume "
            "excerpt".split()))

    def test_the_few_that_are_kept_are_of_this_corpus(self):
        kept = os.path.join(HERE, "..", "corpus")
        want = {n: (raw, expected) for n, raw, expected in corpus.corpus() if n in corpus.FEW}
        self.assertEqual(sorted(want), sorted(corpus.FEW))
        self.assertEqual(sorted(want), sorted(os.listdir(kept)))
        for name, (raw, expected) in want.items():
            for n, volume in enumerate(raw if isinstance(raw, list) else [raw], 1):
                with open(os.path.join(kept, name, "%04d.jsonl" % n), "rb") as f:
                    self.assertEqual(f.read(), volume, name)
            for n, (text, signs) in enumerate(expected.pop("later", ()), 1):
                roster, read = verify.open_roster(os.path.join(kept, name, "later-%d.yaml" % n))
                self.assertEqual((roster.source, read), (text, signs), name)
            if "whole" in expected:
                with open(os.path.join(kept, name, "whole.lines"), "rb") as f:
                    self.assertEqual(f.read(), b"".join(expected.pop("whole")), name)
            with open(os.path.join(kept, name, "expected.json"), "rb") as f:
                self.assertEqual(json.load(f), expected, name)

    def test_the_sound_register_has_every_kind(self):
        kinds = {r["kind"] for r in day.write()[0].records}
        self.assertEqual(kinds, set(verify.KINDS))

    def test_the_same_bytes_on_every_run(self):
        self.assertEqual(day.write()[0].lines, day.write()[0].lines)

    def test_every_start_of_the_sound_registers_is_sound(self):
        """Each line alone carries no promise about the next one."""
        for story in (day.the_day, turns.story):
            lines = day.write(story=story)[0].lines
            for n in range(1, len(lines) + 1):
                self.assertEqual(judge(b"".join(lines[:n]), day.TRUST, 2), ("sound", []))

    def test_every_line_left_out_of_an_excerpt_is_missed(self):
        raw, _, _ = next(make for name, _, _, _, make in turns_ways.EXCERPTS if name == "excerpt-of-later-ends-and-hand-overs-is-good")()
        lines = raw.splitlines(keepends=True)
        self.assertGreater(len(lines), 30)
        for n in range(len(lines)):
            verdict, _ = judge(b"".join(lines[:n] + lines[n + 1:]), day.TRUST, 2, excerpt=True)
            self.assertNotEqual(verdict, "sound", lines[n])

    def test_a_broken_line_beats_what_is_unproven(self):
        lines = day.write("open", "said", ways.data(rules=2))[0].lines
        self.assertEqual(judge(b"".join(lines))[0], "unproven")
        self.assertEqual(judge(b"".join(lines)[:-1])[0], "broken")


class Damage(Remembered):
    def test_every_bit(self):
        """No flipped bit of a short register goes unseen: it is broken, or its version is unknown."""
        raw = b"".join(day.short_register())
        self.assertEqual(judge(raw, [KEEPER])[0], "sound")
        lines = raw.count(b"\n")
        self.assertGreaterEqual(lines, 3)
        for i in range(len(raw)):
            for bit in range(8):
                bad = bytearray(raw)
                bad[i] ^= 1 << bit
                verdict, findings = judge(bytes(bad), [KEEPER])
                self.assertIn(verdict, ("broken", "could not"), (i, bit))
                seq = raw.count(b"\n", 0, i)
                self.assertIn(findings[0][0], (seq, seq + 1), (i, bit))

    def test_every_cut(self):
        raw = b"".join(day.short_register())
        for n in range(len(raw)):
            verdict, findings = judge(raw[:n], [KEEPER])
            if n and raw[:n].endswith(b"\n"):
                self.assertEqual(verdict, "sound")
            else:
                self.assertEqual((verdict, findings[0][1]), ("broken", "tail"), n)

    def test_foreign_bytes(self):
        dice = random.Random(8)
        for _ in range(2000):
            raw = bytes(dice.choice(b'{}[]":,\\\n0123abc\xff\xc3\xa9 ') for _ in range(dice.randrange(300)))
            self.assertEqual(judge(raw)[0], "broken")
            framed = b'{"body":' + raw.replace(b"\n", b"") + b',"seal":"' + b"A" * 86 + b'=="}\n'
            self.assertEqual(judge(framed)[0], "broken")

    def test_foreign_roster_texts(self):
        """Whatever stands in the roster's text, it is refused as a roster, in words."""
        dice, good = random.Random(9), book.roster_text()
        odd = ["", "\n", "&a", "*a", "!!python/object:os.system x", "[", "{", "- ", "? ", ": ", "\"\\U00ffffff\"", "'", "|", ">",
               "%YAML 1.1\n", "---", "...", "1e9", "0x1", "~", "null", "[[[[[[[[[[[[", "{a: {b: {c: {d: {e: {f: {g: {h: {i: 1}}}}}}}}}",
               "<<: *x", "\ud800"]
        for _ in range(3000):
            i, j = dice.randrange(len(good)), dice.randrange(0, 40)
            text = good[:i] + dice.choice(odd) + good[i + j:]
            try:
                verify.Roster(text)
            except verify.Broken as b:
                self.assertEqual(b.rule, "roster")

    def test_every_value_replaced_under_good_signatures(self):
        """Each value of each line becomes something odd and is signed and sealed so. The verdict may be
        any (a note may say other words), but there is one."""
        sound, _ = day.write()
        dice, refused, count = random.Random(10), 0, 0
        for label, seq in (("enrol", 0), ("site", 1), ("form", 4), ("moved", 7), ("air", 9), ("open", 13), ("answer", 14),
                           ("job", 16), ("declare", 17), ("countersign", 22), ("on_air", 24), ("event", 28), ("note", 33),
                           ("deviation", 42), ("running", 47), ("close", 48), ("on_set", 52)):
            body = json.loads(sound.lines[seq][8:-100])
            for path in changes.paths(body):
                layer, sub = changes.layer(path)
                raw = b"".join(day.write(label, layer, changes.change(sub, dice.choice(changes.ODD)), stop=0)[0].lines)
                verdict, findings = judge(raw, day.TRUST, 2)
                self.assertIn(verdict, ("sound", "broken", "could not", "unproven"))
                if verdict == "broken":
                    self.assertEqual(findings[0][0], seq)
                refused, count = refused + (verdict != "sound"), count + 1
        self.assertGreater(count, 300)
        self.assertGreater(refused, count * 2 // 3)


class Command(unittest.TestCase):
    def run_main(self, *arguments):
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                code = verify.main(list(arguments))
            except SystemExit as e:
                code = e.code
        return code, out.getvalue(), err.getvalue()

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.file = os.path.join(self.folder, "0001.jsonl")
        self.keep(b"".join(day.short_register()))

    def keep(self, raw, name="0001.jsonl"):
        with open(os.path.join(self.folder, name), "wb") as f:
            f.write(raw)

    def test_sound_by_folder_and_by_file(self):
        for path in (self.folder, self.file):
            self.assertEqual(self.run_main("--custodian", KEEPER, "--threshold", "1", path), (0, "sound\n", ""))

    def test_a_first_volume_under_a_later_name(self):
        os.rename(self.file, os.path.join(self.folder, "0002.jsonl"))
        code, out, _ = self.run_main("--custodian", KEEPER, "--threshold", "1", self.folder)
        self.assertEqual(code, 5)
        self.assertTrue(out.startswith("unproven\n  line 0: volume: got 0002.jsonl"), out)

    def test_unproven(self):
        code, out, _ = self.run_main(self.folder)
        self.assertEqual(code, 5)
        self.assertTrue(out.startswith("unproven\n  line 0: custodian: got "), out)

    def test_broken(self):
        self.keep(b"".join(day.short_register())[:-1])
        code, out, _ = self.run_main(self.folder)
        self.assertEqual(code, 4)
        self.assertTrue(out.startswith("broken\n  line 2: tail: got "), out)

    def test_json(self):
        code, out, _ = self.run_main("--json", "--custodian", KEEPER, self.folder)
        self.assertEqual((code, json.loads(out)), (0, {"verdict": "sound", "line": None, "rule": None,
                                                       "message": "every line checks"}))
        self.keep(b"\n")
        code, out, _ = self.run_main("--json", self.folder)
        told = json.loads(out)
        self.assertEqual((code, told["verdict"], told["line"], told["rule"]), (4, "broken", 0, "frame"))

    def test_a_later_roster_and_a_trust_file(self):
        self.keep(b"".join(day.write()[0].lines))
        trust = os.path.join(self.folder, "trust.yaml")
        with open(trust, "w") as f:
            f.write("custodians:\n" + "".join("  - %s\n" % c for c in day.TRUST) + "threshold: 2\n")
        self.assertEqual(self.run_main("--trust", trust, self.file)[0], 0)
        self.assertEqual(self.run_main("--trust", trust, "--threshold", "1", self.file)[0], 2)
        roster = os.path.join(self.folder, "three.yaml")
        text = ways.KADE
        with open(roster, "w", newline="\n") as f:
            f.write(text)
        first, second = book.signatures(text)
        for name, sign in (("", first), (".b", second)):
            self.assertEqual(self.run_main("--trust", trust, "--roster", roster, self.file)[0], 5)
            with open("%s%s.sig" % (roster, name), "w") as f:
                f.write(book.armour(sign))
        code, out, _ = self.run_main("--trust", trust, "--roster", roster, self.file)
        self.assertEqual((code, out.splitlines()[1].split(": ")[:2]), (5, ["  line 1", "compromised"]), out)
        with open(roster + ".c.sig", "w") as f:
            f.write(book.armour(first).replace("BEGIN SSH", "BEGIN PGP"))
        self.assertEqual(self.run_main("--trust", trust, "--roster", roster, self.file)[0], 3)
        with open(trust, "a") as f:
            f.write("more: 1\n")
        self.assertEqual(self.run_main("--trust", trust, self.file)[0], 3)

    @unittest.skipUnless(shutil.which("ssh-keygen"), "no ssh-keygen here")
    def test_a_stock_signature_of_a_roster_is_read(self):
        key, text = os.path.join(self.folder, "k"), os.path.join(self.folder, "r.yaml")
        subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", key], check=True)
        with open(key + ".pub") as f:
            ssh = " ".join(f.read().split()[:2])
        with open(text, "w", newline="\n") as f:
            f.write(book.roster_text().replace(signer.ssh(signer.public(signer.secret("keeper-three"))), ssh))
        for how in ("sha256", "sha512"):
            subprocess.run(["ssh-keygen", "-q", "-Y", "sign", "-f", key, "-n", "airwrit-roster-v1", "-O", "hashalg=" + how, text],
                           check=True, capture_output=True)
            roster, signs = verify.open_roster(text)
            self.assertEqual([s["hash"] for s in signs], [how])
            blob = verify.signed_blob("airwrit-roster-v1", roster.source.encode(), how)
            self.assertTrue(STRICT(verify.ssh_key(ssh), blob, verify.base64_bytes(signs[0]["sign"], 64)))
            os.remove(text + ".sig")

    def test_could_not(self):
        self.assertEqual(self.run_main(os.path.join(self.folder, "none"))[0], 3)
        self.keep(b"", "copy.jsonl")
        self.assertEqual(self.run_main(self.folder)[0], 3)

    def test_an_unknown_version_is_could_not_and_never_broken(self):
        self.keep(b"".join(day.write("moved", "body", ways.put(v=2))[0].lines))
        self.assertEqual(self.run_main(self.folder)[0], 3)

    def test_without_the_yaml_library_it_could_not(self):
        self.addCleanup(setattr, verify, "yaml", verify.yaml)
        verify.yaml = None
        code, out, _ = self.run_main("--custodian", KEEPER, self.folder)
        self.assertEqual((code, "PyYAML" in out), (3, True))

    def test_wrong_command_lines(self):
        for wrong in ([], ["--nonsense", self.folder], ["--custodian", "SHA256:short", self.folder],
                      ["--threshold", "1", self.folder], ["--custodian", KEEPER, "--threshold", "0", self.folder],
                      ["--custodian", KEEPER, "--threshold", "2", self.folder]):
            self.assertEqual(self.run_main(*wrong)[0], 2, wrong)


if __name__ == "__main__":
    unittest.main()
