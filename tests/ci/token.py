#!/usr/bin/env python3
"""Verifies a token with openssl alone: token.py TOKEN ALLOWED_SIGNERS. Exit 0 if one of the keys signed it."""
import base64
import hashlib
import pathlib
import struct
import subprocess
import sys
import tempfile


def text(b):
    return struct.pack(">I", len(b)) + b


token, signers = sys.argv[1], pathlib.Path(sys.argv[2]).read_text()
head, sign = token.rsplit(".", 1)
signature = base64.b32decode(sign + "=" * (-len(sign) % 8))
key_id = head.split(".")[5]
tbs = b"SSHSIG" + text(b"airwrit-token-v1") + text(b"") + text(b"sha256") + text(hashlib.sha256(head.encode()).digest())
for line in (l for l in signers.splitlines() if not l.startswith("#")):
    blob = base64.b64decode(line.split()[-1])
    if base64.b32encode(hashlib.sha256(blob).digest()[:8]).decode().rstrip("=") != key_id:
        continue
    # SubjectPublicKeyInfo of an Ed25519 key, RFC 8410.
    der = bytes.fromhex("302a300506032b6570032100") + blob[-32:]
    with tempfile.TemporaryDirectory() as d:
        d = pathlib.Path(d)
        (d / "key").write_bytes(der)
        (d / "tbs").write_bytes(tbs)
        (d / "sig").write_bytes(signature)
        done = subprocess.run(
            ["openssl", "pkeyutl", "-verify", "-pubin", "-keyform", "DER", "-inkey", d / "key", "-rawin",
             "-in", d / "tbs", "-sigfile", d / "sig"], capture_output=True)
        sys.exit(done.returncode)
sys.exit("no key of this token is among the allowed signers")
