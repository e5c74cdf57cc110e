#!/usr/bin/env python3
"""A corpus of registers, one sound and each other damaged in one named way, with the verdict expected.

    python3 corpus.py OUT_DIR [few]      writes OUT_DIR/NAME/0001.jsonl and OUT_DIR/NAME/expected.json:
                                   {verdict, rule, line, custodians, threshold}; line is the `seq`, or
                                   null, of the first finding; `excerpt` where it is the excerpt of a permit, and
                                   then beside it `whole.lines`, the register it is cut out of as it is

With `few`, only those named in FEW: they are kept in tests/corpus, where the other verifier walks
them without Python. The same bytes on every run. Any verifier can be run over it. The texts of checklists, set and site are
short stand-ins: a verifier takes them as bytes.
"""
import io
import json
import os
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from book import armour  # noqa: E402
from day import TRUST, write  # noqa: E402
from signer import fingerprint, public, secret  # noqa: E402
from turns import story  # noqa: E402
from turns_ways import EXCERPTS  # noqa: E402  (its other cases stand in those of `ways`)
from ways import CASES, OUTSIDE, VOLUMES  # noqa: E402


# Short ones, about one for each rule, and the nearest good ones.
FEW = """sound custodian-none-known-from-outside custodian-threshold-not-met custodian-signature-malleable
frame-start base64-seal-spare-bits profile-member-twice profile-right-to-left version-2 version-missing log-missing seq-skips
prev-wrong prev-not-zeros-on-line-0 time-zone-minus-zero time-permit-act-after-12-h-and-a-minute roster-alias
roster-person-id-true roster-hash-wrong seal-one-letter seal-weak-key kind-by-no-id kind-quantity-two-units
kind-quantity-unit-of-16-bytes-is-good act-of-another-permit person-role-unknown person-declares-and-countersigns
key-not-in-the-roster window-key-retired signature-malleable-s-plus-l compromised-later number-malformed number-never-opened
pprev-missing after-wrong target-close-before-hand-back token-seq-wrong citation-open-old-form rules-2
rules-2-states-are-not-judged tail-cut-by-40-bytes state-lapsed-stays-so-when-somebody-goes-in reports-on-a-lapsed-permit-are-good
roster2-is-good roster2-downgrade-to-the-first roster2-too-few-of-the-old roster2-person-dropped roster2-revocation-taken-back
roster2-old-hash-on-the-next-line retired-before-it-signed-as-the-second-version-says
outside-compromised outside-another-of-the-same-number clock-last-wrong aside-suspends again-left-out
deviation-not-accepted deviation-without-limits deviation-over-once-answered-again-is-good volume2-is-good volume2-head-of-another
state-close-with-somebody-on-air state-lapsed-whatever-shutdown-was-given-up-before-the-issue state-told-without-permit-somebody-stays-on-theirs
citation-carried-a-wait-of-two-permits carried-and-then-left-as-a-deviation-is-good target-given-after-a-suspension-and-reinstatement
person-given-by-who-asked person-taken-by-another-than-named token-of-a-later-end-of-another-end state-follows-a-live-permit
state-open-on-a-released-set witness-is-harmless-is-good kind-seen-and-not-seen excerpt-the-answer-carried-is-not-in-it
excerpt-a-shutdown-answer-of-another-permit-is-one excerpt-over-the-next-volume-is-good""".split()


def corpus():
    """(name, bytes, expected) of every register; the sound one first. Bytes are a list where there is more
    than one volume. `later` in what is expected: rosters given from outside, (text, signatures); `whole`: the lines of the
    register that an excerpt is cut out of."""
    book, _ = write()
    good = b"".join(book.lines)
    trust = {"custodians": TRUST, "threshold": 2}
    yield "sound", good, dict(verdict="sound", rule=None, line=None, **trust)
    yield "sound-one-custodian-of-two-is-enough", good, dict(
        verdict="sound", rule=None, line=None, custodians=[TRUST[0], fingerprint(public(secret("keeper-three")))], threshold=1)
    for name, custodians, threshold in (
            ("custodian-none-known-from-outside", [], None),
            ("custodian-known-ones-did-not-sign", [fingerprint(public(secret("keeper-three")))], 1),
            ("custodian-too-few-of-the-known-signed", [TRUST[0], fingerprint(public(secret("keeper-three")))], 2)):
        yield name, good, dict(verdict="unproven", rule="custodian", line=0, custodians=custodians, threshold=threshold)
    yield "turns-sound", b"".join(write(story=story)[0].lines), dict(verdict="sound", rule=None, line=None, **trust)
    for name, verdict, rule, make in CASES:
        raw, line = make()
        sound = verdict == "sound"
        yield name, raw, dict(verdict=verdict, rule=rule, line=None if sound else line, **trust)
    for name, verdict, rule, line, later in OUTSIDE:
        yield name, good, dict(verdict=verdict, rule=rule, line=line, later=later, **trust)
    for name, verdict, rule, volume, line, make in VOLUMES:
        raw = make()
        sound = verdict == "sound"
        line = None if sound else raw[0].count(b"\n") if line < 0 else line     # below 0: where the first one is torn
        yield name, raw, dict(verdict=verdict, rule=rule, line=line, volume=volume, **trust)
    for name, verdict, rule, volume, make in EXCERPTS:
        raw, line, whole = make()
        yield name, raw, dict(verdict=verdict, rule=rule, line=line, volume=volume, excerpt=True,
                              **({"whole": whole} if whole else {}), **trust)


def main(out, few=False):
    count = 0
    for name, raw, expected in corpus():
        if few and name not in FEW:
            continue
        folder = os.path.join(out, name)
        os.makedirs(folder, exist_ok=True)
        for n, volume in enumerate(raw if isinstance(raw, list) else [raw], 1):
            with open(os.path.join(folder, "%04d.jsonl" % n), "wb") as f:
                f.write(volume)
        for n, (text, signs) in enumerate(expected.pop("later", ()), 1):
            later = os.path.join(folder, "later-%d.yaml" % n)
            with io.open(later, "w", encoding="utf-8", newline="\n") as f:
                f.write(text)
            for m, sign in enumerate(signs, 1):
                with io.open("%s.%d.sig" % (later, m), "w", encoding="ascii", newline="\n") as f:
                    f.write(armour(sign))
        whole = expected.pop("whole", None)
        if whole:
            with open(os.path.join(folder, "whole.lines"), "wb") as f:
                f.writelines(whole)
        with io.open(os.path.join(folder, "expected.json"), "w", encoding="ascii") as f:
            f.write(json.dumps(expected, sort_keys=True) + "\n")
        count += 1
    print("%d registers written" % count)


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3) or sys.argv[2:] not in ([], ["few"]):
        sys.exit("use: corpus.py OUT_DIR [few]")
    main(sys.argv[1], sys.argv[2:] == ["few"])
