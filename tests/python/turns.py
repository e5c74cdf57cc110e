"""A register in which work goes from permit to permit and from hand to hand: answers carried, later ends, hand-overs,
a set released and taken again, another station's register read. Every person, site, set and figure is invented.
"""
from book import at, sha
from day import (FIVE, FOUR, ONE, SET, SIX, TEXTS, THREE, TWO, YARD, answered, enrolment, held, later, opened, outgoing, slope,
                 valid)

FOX, LOCK_TEN = "fox-set", "lock-ten"
TEXTS.update(fox="set: fox-set\n", ten="site: lock-ten\n")
WARM = {"step": "warm_up"}


def opening(follows=None, holder="olia-brandt", set_id=SET, site=YARD, form="pre2", why="work", rules=1):
    """What `open` says: on which set and site, who holds it, whose work it goes on with."""
    said = opened(form, why, rules, set_id)
    said["set"]["hash"] = sha(TEXTS["fox" if set_id == FOX else "set"])
    said["site"] = {"id": site, "hash": sha(TEXTS["ten" if site == LOCK_TEN else "site"])}
    said["job"].update(holder=holder)
    return dict(said, **({"follows": follows} if follows else {}))


def carry(*which, form="pre2"):
    """What `carried` says: `which` are names of steps of the story, hashes, or functions that find one in the book."""
    def go(book):
        found = [w(book) if callable(w) else book.named[w]["hash"] if w in book.named else w for w in which]
        return {"form": sha(TEXTS[form]), "answers": found}
    return go


def given(permit, step, value=None):
    """The hash of the last answer to a step on a permit, or of the last one with that value."""
    def go(book):
        return next(r["hash"] for r in reversed(book.records) if r["kind"] == "answer" and r["permit"] == permit
                    and r["data"]["step"] == step and value in (None, r["data"].get("value")))
    return go


def story(book, step):
    day = {"date": "2026-11-25", "set": SET}

    def carried(name, permit, *which):
        return step(name, "carried", carry(*which)(book), permit)

    step("enrol", "enrol", enrolment())
    step("site", "site", {"site": YARD, "what": "site", "text": TEXTS["site"]})
    step("ten", "site", {"site": LOCK_TEN, "what": "site", "text": TEXTS["ten"]})
    step("set", "set", {"set": SET, "text": TEXTS["set"]})
    step("fox", "set", {"set": FOX, "text": TEXTS["fox"]})
    step("form", "form", {"form": "pre-start", "revision": 2, "text": TEXTS["pre2"]})
    step("form2", "form", {"form": "shutdown", "revision": 1, "text": TEXTS["down"]})
    read = step("read", "witness", held(set=SET, held=True))
    step("read_again", "witness", held(44, set=SET))
    air = step("air", "air_test", dict(day, place="north-quay", sampler="tubes", co="0.5 ppm",
                                       witness={"hash": sha("their air test"), "line": read["hash"]}))
    # The first permit: a later end twice, and three hand-overs, one of them while it is suspended.
    step("open1", "open", opening(), ONE)
    step("oil1", "answer", answered(value="between_marks", rests_on=[air["hash"]]), ONE)
    step("begun1", "answer", answered(value="begun", **WARM), ONE)
    step("done1", "answer", answered(value="done", **WARM), ONE)
    step("vents1", "answer", answered(step="vents", item="1", value="4", unit="m"), ONE)
    step("out1", "answer", answered(step="cylinder", item="C", left_out="away for test"), ONE)
    step("ground1", "answer", answered(step="ground", value="no"), ONE)
    step("left1", "answer", answered(step="ground", deviation=slope()), ONE)
    step("declare1", "declare", {}, ONE)
    step("issue1", "countersign", valid(200, deviations=["ground"], limits={"wearers": 2}, seen=[
        {"step": "vents", "item": "1", "unit": "m", "value": "4"}, {"step": "supply", "unit": "bar", "value": "6.5"}]), ONE)
    step("card1", "copy", {"hangs": "with the attendant", "number": 1, "sheet": "card"}, ONE)
    step("read1", "witness", held(51, held=True), ONE)
    step("asked1", "extend", later(260, entry_permits=[{"id": "e-17", "until": at(280)}]), ONE)
    step("reading1", "reading", {"what": "reserve", "unit": "bar", "value": "207"}, ONE)
    step("given1", "extend", valid(260, part="given"), ONE, act_pprev=book.last("extend")["hash"])
    step("outgoing1", "hand_over", outgoing("bo-tersen", "shift", staying="jorn, at outlet 2"), ONE)
    step("read1b", "witness", held(52), ONE)
    step("incoming1", "hand_over", {"part": "incoming"}, ONE, by="bo-tersen", act_pprev=book.last("hand_over")["hash"])
    step("asked1b", "extend", later(300), ONE, by="bo-tersen")
    step("halt1", "suspend", {"reason": "fog"}, ONE)
    step("roll1", "roll_call", {"found": ["una"]}, ONE)
    step("back1", "reinstate", {"cause": "the fog lifted"}, ONE)
    step("asked1c", "extend", later(300), ONE, by="bo-tersen")
    step("given1c", "extend", valid(300, part="given"), ONE)
    step("outgoing1b", "hand_over", outgoing("olia-brandt"), ONE, by="bo-tersen")
    step("drill1", "event", {"what": "drill", "set": SET})
    step("roll1b", "roll_call", {"found": ["una"]}, ONE)
    step("outgoing1c", "hand_over", outgoing("olia-brandt"), ONE, by="bo-tersen")
    step("incoming1c", "hand_over", {"part": "incoming"}, ONE)
    step("back1b", "reinstate", {"cause": "the drill is over"}, ONE)
    step("shut1", "answer", answered("down", value="nobody"), ONE)
    step("hand1", "hand_back", {}, ONE)
    # The second goes on with its work, on its answers.
    step("open2", "open", opening(ONE), TWO)
    carried("carried2", TWO, "oil1", "begun1", "done1")
    step("ground2", "answer", answered(step="ground", value="yes"), TWO)
    carried("carried2b", TWO, "vents1")
    step("close1", "close", {}, ONE)
    step("declare2", "declare", {}, TWO, by="bo-tersen")
    step("issue2", "countersign", valid(300, not_seen="the stairs to the gauges are iced up"), TWO)
    step("oil2", "answer", answered(value="between_marks", again="refilled"), TWO)
    # The third runs beside it for a while, on answers of both.
    step("open3", "open", opening(), THREE)
    carried("carried3", THREE, "begun1", "done1", "oil2", "ground2")
    step("declare3", "declare", {}, THREE)
    carried("carried3b", THREE, "vents1")
    step("declare3b", "declare", {}, THREE)
    step("issue3", "countersign", valid(320), THREE, by="bo-tersen")
    step("running2", "hand_back", {"left_running": THREE}, TWO)
    step("close2", "close", {}, TWO)
    step("on3", "on_air", {"person": "una"}, THREE)
    step("off3", "off_air", {"person": "una"}, THREE)
    step("shut3", "answer", answered("down", value="nobody"), THREE)
    step("hand3", "hand_back", {}, THREE)
    step("close3", "close", {}, THREE)
    # The set goes away; what is good for any set of the site is carried to another one.
    step("released", "released", day)
    step("open4", "open", opening(set_id=FOX), FOUR)
    carried("carried4", FOUR, "vents1")
    step("cancel4", "cancel", {"reason": "the other set came back"}, FOUR)
    step("taken", "taken", day)
    step("open5", "open", opening(THREE), FIVE)
    carried("carried5", FIVE, "vents1", "begun1", "done1", "oil2", "ground2")
    step("declare5", "declare", {}, FIVE)
    step("issue5", "countersign", valid(book.minute + 4), FIVE)
    step("open6", "open", opening(FIVE), SIX, after_minutes=10)     # the fifth has lapsed
    carried("carried6", SIX, "oil2")
    step("last", "note", {"words": "the end", "set": SET})
