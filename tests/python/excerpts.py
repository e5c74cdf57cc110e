"""Excerpts of one permit, cut out of a register by Python alone: which lines stand in one is said at the head of
`src/record/excerpt.rs`, and the other hand must cut out the same bytes.
"""
import json

from book import sha

OF_THE_SET = ("moved plugged started stopped filled serviced air_test event call_out suspend on_air in out off_air roll_call "
              "witness").split()


def excerpt(lines, permit):
    """The lines of the excerpt of a permit, of all lines of a register."""
    read = [json.loads(line)["body"] for line in lines]
    data = [b["act"]["data"] if "act" in b else b["data"] for b in read]
    kinds = [b["kind"] for b in read]
    place = {sha(line[:-1]): n for n, line in enumerate(lines)}
    opens = {b["permit"]: data[n] for n, b in enumerate(read) if b["kind"] == "open"}
    opened = next(n for n, b in enumerate(read) if b["kind"] == "open" and b["permit"] == permit)
    set_id = opens[permit]["set"]["id"]

    def of_set(n):
        other = opens.get(read[n].get("permit"))
        return (other["set"]["id"] if other else data[n].get("set") if "permit" not in read[n] else None) == set_id

    def of_shutdown(n):
        other = opens.get(read[n].get("permit"))
        return kinds[n] == "answer" and (other is None or other["for"] != "work" or other["form"]["hash"] != data[n]["form"])

    def cited(n):
        names = [data[n].get("target"), (data[n].get("witness") or {}).get("line")]
        names += data[n].get("rests_on", []) + data[n].get("answers", [])
        yield from (place[h] for h in names if h in place)
        texts = [(k, data[n][k]["hash"]) for k in ("form", "set", "site")] if kinds[n] == "open" else []
        texts += [("form", data[n]["form"])] if kinds[n] == "answer" else []
        for kind, text in texts:
            yield from [m for m in range(n) if kinds[m] == kind and data[m]["hash"] == text and data[m].get("what") != "limits"][-1:]

    standing = {n for n, k in enumerate(kinds)
                if k in ("enrol", "roster", "clock") or "aside" in data[n] or kinds[n + 1:n + 2] == ["enrol"]}
    todo = [n for n, b in enumerate(read) if b.get("permit") == permit]
    todo += [n for n in range(opened + 1, len(read)) if (kinds[n] in OF_THE_SET or of_shutdown(n)) and of_set(n)]
    todo += [n for n in range(opened) if kinds[n] == "close" and of_set(n)][-1:]
    followed = set()
    while todo:
        n = todo.pop()
        if n not in followed:
            followed.add(n)
            todo += cited(n)
    return [lines[n] for n in sorted(standing | followed)]
