"""Ed25519 signing for tests only, written from RFC 8032 section 5.1 (slow, not constant-time), apart
from the verifier's arithmetic: affine points, so that a mistake in one does not hide in the other.
Deterministic: a key is made from a word. Every person, key and figure is invented.
"""
import base64
import functools
import hashlib

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = 37095705934669439343138083508754565189542113879843219016388785533085940283555  # RFC 8032, 5.1


def inverse(n):
    return pow(n, P - 2, P)


def add(a, b):
    """Projective twisted Edwards addition, a = -1 (x = X/Z, y = Y/Z)."""
    x1, y1, z1 = a
    x2, y2, z2 = b
    zz = z1 * z2 % P
    s = zz * zz % P
    xx, yy = x1 * x2 % P, y1 * y2 % P
    e = D * xx * yy % P
    f, g = s - e, s + e
    x3 = zz * f * ((x1 + y1) * (x2 + y2) - xx - yy) % P
    return x3, zz * g * (yy + xx) % P, f * g % P


# The base point, RFC 8032 section 5.1.
B = (15112221349535400772501151409588531511454012693041857206046113283949847762202,
     46316835694926478169428394003475163141307993866256225615783033603165251855960, 1)


@functools.lru_cache(maxsize=None)
def sixteenths(point):
    """0 to 15 times a point, 0 to 15 times sixteen times it, and so on: 64 rows."""
    rows = []
    for _ in range(64):
        row = [(0, 1, 1)]
        for _ in range(15):
            row.append(add(row[-1], point))
        rows.append(row)
        point = add(row[-1], point)
    return rows


def times_base(n):
    """n times the base point, by the hexadecimal digits of n."""
    total = (0, 1, 1)
    for row in sixteenths(B):
        total = add(total, row[n & 15])
        n >>= 4
    return total


def times(n, point):
    total = (0, 1, 1)
    while n:
        if n & 1:
            total = add(total, point)
        point = add(point, point)
        n >>= 1
    return total


def encode(point):
    x, y, z = point
    i = inverse(z)
    x, y = x * i % P, y * i % P
    return (y | (x & 1) << 255).to_bytes(32, "little")


@functools.lru_cache(maxsize=None)
def expand(secret):
    h = hashlib.sha512(secret).digest()
    a = int.from_bytes(h[:32], "little") & (2**254 - 8) | 2**254
    return a, h[32:], encode(times_base(a))


def public(secret):
    return expand(secret)[2]


@functools.lru_cache(maxsize=None)
def sign(secret, message):
    a, prefix, key = expand(secret)
    r = int.from_bytes(hashlib.sha512(prefix + message).digest(), "little") % L
    big_r = encode(times_base(r))
    k = int.from_bytes(hashlib.sha512(big_r + key + message).digest(), "little") % L
    return big_r + ((r + k * a) % L).to_bytes(32, "little")


def secret(word):
    return hashlib.sha256(b"test key: " + word.encode()).digest()


def blob(key):
    out = b""
    for part in (b"ssh-ed25519", key):
        out += len(part).to_bytes(4, "big") + part
    return out


def ssh(key):
    return "ssh-ed25519 " + base64.b64encode(blob(key)).decode()


def fingerprint(key):
    return "SHA256:" + base64.b64encode(hashlib.sha256(blob(key)).digest()).decode()[:43]


def tbs(namespace, message, name="sha256"):
    out = b"SSHSIG"
    for part in (namespace.encode(), b"", name.encode(), hashlib.new(name, message).digest()):
        out += len(part).to_bytes(4, "big") + part
    return out


def b64(data):
    return base64.b64encode(data).decode()


def b32(data):
    return base64.b32encode(data).decode().replace("=", "")
