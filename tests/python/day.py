"""The day's register that the corpus is made from: every kind of line stands in it, and a test can
reach into any of its lines. Every person, site, set and figure is invented.
"""
from book import PERSONS, Book, at, person, roster_text, sha, signatures
from signer import fingerprint, public, secret

TRUST = [fingerprint(public(secret(w))) for w in ("keeper-one", "keeper-two")]
ONE, TWO, THREE, FOUR, FIVE, SIX, SEVEN, EIGHT = ("TQ7-261125-%02d" % n for n in range(1, 9))
SET, YARD = "hare-set", "lock-nine"
TEXTS = {"site": "site: lock-nine\nnote: \"stand-in, ß\"\n", "limits": "limits: plain\n", "set": "set: hare-set\n",
         "pre1": "checklist: pre-start\nrevision: 1\n", "pre2": "checklist: pre-start\nrevision: 2\n",
         "down": "checklist: shutdown\nrevision: 1\n"}


def slope():
    return {"reason": "the yard slopes everywhere", "instead": "chocked, and looked at every hour"}


class Done(Exception):
    pass


def enrolment(text=None, signs=None):
    text = roster_text() if text is None else text
    return {"roster": {"text": text, "signs": signatures(text) if signs is None else signs}, "station": "TQ7"}


def next_roster(changed=PERSONS, **more):
    """The second version: sunniva-kade's window ends earlier."""
    persons = [person("sunniva-kade", "supervisor", to="2027-06-30T23:59:59Z") if "id: sunniva-kade" in p else p for p in changed]
    return roster_text(**dict({"persons": persons, "version": 2, "before": sha(roster_text())}, **more))


def opened(form="pre2", why="work", rules=1, set_id=SET):
    return {"for": why, "form": {"id": "shutdown" if form == "down" else "pre-start", "hash": sha(TEXTS[form])},
            "job": {"what": "grit blasting in chamber 4", "wearers": [{"person": "una", "outlet": "1"}, {"person": "jorn"}],
                    "notice": True, "rescue_minutes": 7},
            "rules": rules, "set": {"id": set_id, "hash": sha(TEXTS["set"])}, "site": {"id": YARD, "hash": sha(TEXTS["site"])}}


def valid(minute=600, **more):
    return dict({"valid_to": at(minute), "valid_by": "the job ends"}, **more)


def answered(form="pre2", **more):
    return dict({"form": sha(TEXTS[form]), "step": "oil_level", "shown": "Oil level in the glass"},
                **(more or {"value": "between_marks"}))


def held(seq=41, **more):
    """Another register was read, and holds a set."""
    return dict({"station": "TQ8", "log": "2b" * 16, "seq": seq, "head": sha("line %d there" % seq), "time": at(3)}, **more)


def later(minute=660, **more):
    return dict({"part": "asked", "until": at(minute), "reason": "the last coat is still wet"}, **more)


def outgoing(to, takes="holder", **more):
    return dict({"part": "outgoing", "to": to, "takes": takes, "checked": ["fuel", "wind", "warnings"], "unusual": "nothing"}, **more)


def the_day(book, step):
    """Every kind of line stands in it."""
    day = {"date": "2026-11-25", "set": SET}
    step("enrol", "enrol", enrolment())
    step("site", "site", {"site": YARD, "what": "site", "text": TEXTS["site"]})
    step("limits", "site", {"site": YARD, "what": "limits", "text": TEXTS["limits"]})
    step("set", "set", {"set": SET, "text": TEXTS["set"]})
    step("form", "form", {"form": "pre-start", "revision": 1, "text": TEXTS["pre1"]})
    step("form2", "form", {"form": "pre-start", "revision": 2, "text": TEXTS["pre2"]}, act_late=9000)
    step("form3", "form", {"form": "shutdown", "revision": 1, "text": TEXTS["down"]})
    step("moved", "moved", dict(day, place="north-quay"), by="olia-brandt", role="operator")
    step("plugged", "plugged", dict(day, supply_point="pillar-3"))
    step("air", "air_test", dict(day, place="north-quay", sampler="tubes", co="0.5 ppm", co2="410 ppm",
                                 oil="0.05 mg/m3", o2="20.9 %", water="31 mg/m3", certificate="C-77"))
    step("filled", "filled", dict(day, **{"from": "other_tested", "machine": "filling bench 2"}))
    step("serviced", "serviced", dict(day, what="filter", hours="412.5 h", words="both elements"))
    step("started", "started", dict(day, at=at(5), told_by="Olia", hours="412.5 h"))
    step("open", "open", opened(), ONE)
    step("answer", "answer", answered(value="207", unit="bar", item="A", at=at(8)), ONE)
    step("answer_out", "answer", answered(left_out="cylinder C is away for test", item="C"), ONE)
    step("job", "job", {"job": {"what": "grit blasting", "list": [], "none": {}}}, ONE)
    step("declare", "declare", {}, ONE)
    step("answer_again", "answer", answered(value="tight", again="tightened", below=True, words="one turn"), ONE)
    step("answer_again2", "answer", answered(value="dry", again="cleaned"), ONE)
    declared = step("declare2", "declare", {}, ONE, act_late=5)
    step("copy", "copy", {"hangs": "on the set", "number": 1}, ONE)
    step("countersign", "countersign", valid(limits={"wearers": 2, "until": at(300), "words": "dry work only"}), ONE,
         act_pprev=declared["hash"])
    step("reading", "reading", {"what": "reserve", "unit": "bar", "value": "207.5", "item": "A"}, ONE)
    step("on_air", "on_air", {"person": "una", "outlet": "1"}, ONE)
    step("in", "in", {"person": "una", "breach": ["outlet 2 is not in the job"]}, ONE)
    step("on_air2", "on_air", {"person": "jorn", "outlet": "2"}, ONE)
    step("denied", "denied", {"request": "shut down", "why": ["una is in", "jorn is on air"]}, ONE)
    event = step("event", "event", {"what": "co", "words": "alarm at 5 ppm"}, ONE)
    step("call_out", "call_out", {}, ONE)
    step("out", "out", {"person": "una"}, ONE)
    step("off_air", "off_air", {"person": "una"}, ONE)
    step("off_air2", "off_air", {"person": "jorn"}, ONE)
    step("note", "note", {"target": event["hash"], "words": "a lorry stood beside the intake"}, ONE)
    step("open2", "open", opened(), TWO)
    step("d2", "declare", {}, TWO)
    step("refuse", "refuse", {"reason": "the intake faces the road"}, TWO)
    step("open3", "open", opened(), THREE)
    step("begun", "answer", answered(step="warm_up", value="begun"), THREE)
    step("done", "answer", answered(step="warm_up", value="done"), THREE)
    step("ground", "answer", answered(step="ground", value="no"), THREE)
    step("vents", "answer", answered(step="vents", item="1", value="4", unit="m"), THREE)
    step("deviation", "answer", answered(step="ground", deviation=slope()), THREE)
    step("deviation2", "answer", answered(step="vents", item="1", deviation=slope()), THREE)
    step("d3", "declare", {}, THREE)
    step("c3", "countersign", valid(limits={"words": "two wearers at most"}, deviations=["ground", "vents/1"]), THREE)
    step("on3", "on_air", {"person": "una"}, THREE)
    step("running", "hand_back", {"left_running": THREE, "reason": "goes on under the next permit"}, ONE)
    step("close", "close", {}, ONE)
    step("suspend3", "suspend", {"reason": "rain on the quay"}, THREE)
    step("off3", "off_air", {"person": "una"}, THREE)
    step("cancel", "cancel", {"reason": "work put off"}, THREE)
    step("on_set", "on_air", {"person": "una", "set": SET})
    step("off_set", "off_air", {"person": "una", "set": SET})
    step("open5", "open", opened(), FIVE)
    step("d5", "declare", {}, FIVE)
    step("c5", "countersign", valid(), FIVE)
    step("halt5", "suspend", {"reason": "fog"}, FIVE)
    step("roll5", "roll_call", {"found": ["una", "jorn"]}, FIVE)
    step("back5", "reinstate", {"cause": "the fog lifted"}, FIVE)
    step("relieve5", "relieve", {"from": "olia-brandt", "role": "attendant", "to": "una"}, FIVE)
    step("shut5", "answer", answered("down", value="nobody"), FIVE)
    step("hand5", "hand_back", {}, FIVE)
    step("close5", "close", {}, FIVE)
    step("event_set", "event", {"what": "oil", "set": SET})
    step("stopped", "stopped", dict(day, target=book.last("event")["hash"]))
    step("suspend_set", "suspend", {"reason": "no attendant", "set": SET})
    step("open4", "open", opened("down", "shutdown"), FOUR)
    step("shut4", "answer", answered("down", value="nobody"), FOUR)
    step("hand4", "hand_back", {}, FOUR)
    step("close4", "close", {}, FOUR)
    step("open6", "open", opened(), SIX)
    step("d6", "declare", {}, SIX)
    step("c6", "countersign", valid(80), SIX)
    step("note6", "note", {"words": "nobody came"}, SIX, after_minutes=40)      # lapsed by now
    step("recovery", "recovery", {"hash": sha("half a line"), "length": 11})
    read = step("witness", "witness", held(set=SET, held=True))
    step("witnessed", "air_test", dict(day, place="north-quay", sampler="tubes", co="0.5 ppm",
                                       witness={"hash": sha("their air test"), "line": read["hash"]}))
    step("open8", "open", dict(opened(), follows=SIX, job={"what": "grit blasting", "holder": "olia-brandt"}), EIGHT)
    waited = [r["hash"] for r in book.records if r["permit"] == THREE and r["data"].get("step") == "warm_up"]
    step("carried", "carried", {"form": sha(TEXTS["pre2"]), "answers": waited}, EIGHT)
    step("d8", "declare", {}, EIGHT)
    step("c8", "countersign", valid(seen=[{"step": "reserve", "item": "A", "value": "206", "unit": "bar"}]), EIGHT)
    step("asked", "extend", later(entry_permits=[{"id": "e-17", "until": at(700)}]), EIGHT)
    step("given", "extend", valid(660, part="given"), EIGHT)
    step("outgoing", "hand_over", outgoing("bo-tersen", "shift", staying="nobody"), EIGHT)
    step("incoming", "hand_over", {"part": "incoming"}, EIGHT, by="bo-tersen")
    step("cancel8", "cancel", {"reason": "the chamber is flooded"}, EIGHT)
    step("released", "released", dict(day, words="to the yard across the water"))
    step("taken", "taken", dict(day, told_by="Olia"))
    step("form4", "form", {"form": "pre-start", "revision": 3, "text": "checklist: pre-start\nrevision: 3\n"})
    two = next_roster()
    step("roster", "roster", {"text": two, "signs": signatures(two)})
    step("clock", "clock", {"reason": "the laptop came back from repair"}, after_minutes=-30)
    step("clock2", "clock", {"reason": "again"}, after_minutes=-1)
    step("aside", "recovery", {"aside": [
        {"at": at(1), "id": "0a" * 16, "kind": "call_out", "data": {"set": SET}},
        {"at": at(2), "id": "0b" * 16, "kind": "on_air", "data": {"person": "una"}, "permit": SIX, "by": "olia-brandt"},
        {"at": at(3), "id": "0c" * 16, "kind": "off_air", "data": {"person": "una", "at": at(2)}, "permit": SIX}]})
    step("last", "note", {"words": "the end", "set": SET})


def write(label=None, layer=None, damage=None, insert=None, stop=2, story=the_day):
    """A register of that story. At the step `label`: `damage` reaches into that line at `layer`, or `insert`
    writes other lines before it; then at most `stop` more lines follow. Returns the book and the seq of
    the damaged line."""
    book, hit = Book(), []

    def step(name, kind, data=None, permit=None, **more):
        if hit and len(book.lines) > hit[0] + stop:
            raise Done
        if name == label and insert:
            insert(book)
            hit.append(len(book.lines) - 1)
            raise Done
        if name == label:
            hit.append(len(book.lines))
            more.update(damage=damage, layer=layer)
        book.named[name] = book.add(kind, data, permit, **more)
        return book.named[name]

    try:
        story(book, step)
    except Done:
        pass
    return book, hit[0] if hit else None


def short_register():
    """Three lines with the smallest roster: every bit of it is flipped in the tests."""
    text = roster_text(("keeper-one",), 1, [person("edda-voss", "enroller")])
    book = Book()
    book.add("enrol", enrolment(text, signatures(text, (("keeper-one", "sha256"),))))
    book.add("moved", {"date": "2026-11-25", "set": SET, "place": "quay"})
    book.add("on_air", {"person": "una", "set": SET})
    return book.lines
