"""Long tests give the verifier the same keys, bodies, rosters and signatures again and again. What it once made of the same
bytes is remembered here, where they were in order; what it refused it looks at anew.
"""
import functools

OF = "verify_strict decode_point scan_body Roster".split()


def remember(verify):
    """Has this verifier remember; returns what makes it forget."""
    plain = {name: getattr(verify, name) for name in OF}
    for name, function in plain.items():
        setattr(verify, name, functools.lru_cache(maxsize=None)(function))

    def forget():
        for name, function in plain.items():
            setattr(verify, name, function)
    return forget
