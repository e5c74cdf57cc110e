"""Changes of one value deep in a line: every path there is, odd values, and the change itself as `day.write` takes it."""
import book

ODD = [True, 0, 2**53 - 1, "", "x", "\u00e9" * 3000, "1" * 64, [], ["x"], [[]], {}, {"a": {}}, "2026-11-25", book.at(30),
       "SHA256:", "TQ7-261125-01", "9999-12-31T23:59:59Z", "1970-01-01T00:00:00Z", "+14:59"]


def paths(value, at=()):
    if at:
        yield at
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for k, v in list(pairs):
        yield from paths(v, at + (k,))


def change(path, new):
    """None takes the value away."""
    def go(there, _):
        for p in path[:-1]:
            there = there[p]
        if new is None:
            del there[path[-1]]
        else:
            there[path[-1]] = new
    return go


def layer(path):
    """Of a path in a body: whether it is the act or the body that changes, and where in it."""
    return ("act", path[1:]) if path[0] == "act" and len(path) > 1 else ("body", path)
