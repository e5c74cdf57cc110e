"""The ways to be wrong with answers carried, later ends, hand-overs, sets released and registers read, and the nearest
things that are still right. They join the cases of `ways`; excerpts of the same stand in EXCERPTS.
"""
from book import at, sha
from day import FIVE, FOUR, ONE, SET, SEVEN, SIX, TEXTS, THREE, TWO, answered, enrolment, held, later, outgoing, slope, valid, write
from excerpts import excerpt
from turns import FOX, LOCK_TEN, WARM, carry, given, opening, story
from ways import added, aside, case, data, drop, inserted, put, volume


def turn(name, rule, label, layer, damage, verdict="broken", **more):
    case(name, rule, label, layer, damage, verdict, story=story, **more)


def turned(name, rule, label, *lines, **more):
    inserted(name, rule, label, *lines, story=story, **more)


def good(name, label, *lines):
    turned(name + "-is-good", None, label, *lines, verdict="sound")


def of(line, **more):
    """The same line, signed or dated otherwise."""
    return (*line[:3], dict(line[3] if len(line) > 3 else {}, **more))


def carried(permit, *which, **more):
    return ("carried", carry(*which, **more), permit)


def answer(permit, **what):
    return ("answer", answered(**what), permit)


def issued(permit, *lines, by="olia-brandt", **how):
    """Lines that open a permit, answer on it, declare and issue it."""
    return [("open", opening(**how), permit), *lines, ("declare", {}, permit, {"by": by}), ("countersign", valid(), permit)]


def half(kind, part, permit=ONE, target=None, by=None, **what):
    """The second half of an act; `target` is the name of a line of the story."""
    def go(book):
        return dict(what, part=part, **({"target": book.named[target]["hash"] if target in book.named else target} if target else {}))
    return (kind, go, permit, {"by": by} if by else {})


def asked(permit=ONE, minute=280, **more):
    return ("extend", later(minute), permit, more)


def giving(permit=ONE, minute=280, target=None, by=None):
    return half("extend", "given", permit, target, by, **valid(minute))


def leaves(to="bo-tersen", permit=ONE, **more):
    return ("hand_over", outgoing(to), permit, more)


def takes(permit=ONE, target=None, by="bo-tersen"):
    return half("hand_over", "incoming", permit, target, by)


NO_HASH = "ab" * 32
SUSPEND = ("suspend", {"reason": "x"}, ONE)
BACK = [("roll_call", {"found": ["una"]}, ONE), ("reinstate", {"cause": "x"}, ONE)]
SWITCH = ("form", {"form": "pre-start", "revision": 1, "text": TEXTS["pre1"]}, None)      # another text in force

# 1 answers carried
ON_SEVEN = carried(TWO, given(SEVEN, "guards"))
GUARDS = answer(SEVEN, step="guards", value="yes")
turned("citation-carried-of-the-same-permit", "citation", "carried2",
       answer(TWO, step="guards", value="yes"), carried(TWO, given(TWO, "guards")))
turned("citation-carried-of-another-form", "citation", "carried2", SWITCH, ("open", opening(form="pre1"), SEVEN),
       carried(SEVEN, "oil1", form="pre1"))
turned("citation-carried-names-another-form-than-the-permit", "citation", "carried2", SWITCH, ("open", opening(form="pre1"), SEVEN),
       carried(SEVEN, "oil1"))
turned("citation-carried-names-the-form-of-the-shutdown", "citation", "carried2", carried(TWO, "shut1", form="down"))
turned("citation-carried-a-shutdown-answer", "citation", "carried2", carried(TWO, "shut1"))
turned("citation-carried-was-left-out", "citation", "carried2", carried(TWO, "oil1", "out1"))
turned("citation-carried-was-left-as-a-deviation", "citation", "carried2", carried(TWO, "ground1"))
turned("citation-carried-the-deviation-itself", "citation", "carried2", carried(TWO, "left1"))
turned("citation-carried-is-a-declaration", "citation", "carried2", carried(TWO, "declare1"))
turned("citation-carried-is-no-line", "citation", "carried2", carried(TWO, NO_HASH))
turned("citation-carried-is-a-line-that-carries", "citation", "carried3", carried(THREE, "carried2"))
turned("citation-carried-from-a-permit-for-shutdown", "citation", "carried2",
       ("open", opening(why="shutdown"), SEVEN), GUARDS, ON_SEVEN)
turned("citation-carried-to-a-permit-for-shutdown", "citation", "carried2", ("open", opening(why="shutdown"), SEVEN), carried(SEVEN, "oil1"))
turned("citation-carried-not-the-latest-of-its-permit", "citation", "shut1",
       answer(ONE, value="low", again="waited"), ("open", opening(), SEVEN), carried(SEVEN, "oil1"))
good("carried-the-latest-of-its-permit", "shut1",
     answer(ONE, value="low", again="waited"), ("open", opening(), SEVEN), carried(SEVEN, given(ONE, "oil_level")))
turned("citation-carried-not-the-latest-of-its-set", "citation", "carried3", carried(THREE, "oil1"))
turned("citation-carried-answered-since-on-a-draft", "citation", "carried3",
       ("open", opening(), SEVEN), answer(SEVEN, step="vents", item="1", value="3"), carried(THREE, "vents1"))
turned("citation-carried-left-out-since", "citation", "carried3",
       ("open", opening(), SEVEN), answer(SEVEN, step="vents", item="1", left_out="bricked up"), carried(THREE, "vents1"))
good("carried-answered-since-for-another-item", "carried3",
     ("open", opening(), SEVEN), answer(SEVEN, step="vents", item="2", value="3"), carried(THREE, "vents1"))
good("carried-answered-since-on-another-set", "carried3",
     ("open", opening(set_id=FOX), SEVEN), answer(SEVEN, step="vents", item="1", value="3"), carried(THREE, "vents1"))
turned("citation-carried-from-another-set-not-its-latest", "citation", "carried4",
       ("open", opening(set_id=FOX), SEVEN), carried(SEVEN, "oil1"))
turned("citation-carried-from-a-draft", "citation", "carried2", ("open", opening(), SEVEN), GUARDS, ON_SEVEN)
turned("citation-carried-from-a-permit-declared", "citation", "carried2", ("open", opening(), SEVEN), GUARDS, ("declare", {}, SEVEN), ON_SEVEN)
turned("citation-carried-from-a-permit-refused", "citation", "carried2",
       ("open", opening(), SEVEN), GUARDS, ("declare", {}, SEVEN), ("refuse", {"reason": "x"}, SEVEN), ON_SEVEN)
good("carried-from-a-permit-issued", "carried2", *issued(SEVEN, GUARDS), ON_SEVEN)
good("carried-from-a-permit-cancelled-since", "carried2", *issued(SEVEN, GUARDS), ("cancel", {"reason": "x"}, SEVEN), ON_SEVEN)
turned("citation-carried-from-another-site", "citation", "carried2", *issued(SEVEN, GUARDS, site=LOCK_TEN), ON_SEVEN)
turned("citation-carried-twice-in-one-list", "citation", "carried2", carried(TWO, "oil1", "oil1"))
turned("citation-carried-begun-twice-in-one-list", "citation", "carried2", carried(TWO, "begun1", "begun1", "done1"))
turned("citation-carried-the-end-of-a-wait-first", "citation", "carried2", carried(TWO, "done1", "begun1"))
turned("citation-carried-the-beginning-of-a-wait-alone", "citation", "carried2", carried(TWO, "begun1"))
good("carried-the-end-of-a-wait-alone", "carried2", carried(TWO, "done1"))
WAITED = [answer(TWO, **dict(WARM, value="begun", again="waited")), answer(TWO, **dict(WARM, value="done"))]
turned("citation-carried-a-wait-not-the-latest", "citation", "open3", *WAITED, ("open", opening(), SEVEN), carried(SEVEN, "begun1", "done1"))
turned("citation-carried-a-wait-of-two-permits", "citation", "open3", *WAITED, ("open", opening(), SEVEN),
       carried(SEVEN, "begun1", given(TWO, "warm_up", "done")))
good("carried-the-latest-wait", "open3", *WAITED, ("open", opening(), SEVEN),
     carried(SEVEN, given(TWO, "warm_up", "begun"), given(TWO, "warm_up", "done")))
good("carried-a-wait-that-still-runs-and-ended-here", "open3", *WAITED[:1], ("open", opening(), SEVEN),
     carried(SEVEN, given(TWO, "warm_up", "begun")), answer(SEVEN, **dict(WARM, value="done")))
turned("citation-carried-a-wait-left-as-a-deviation", "citation", "done1",
       answer(ONE, step="warm_up", deviation=slope()), answer(ONE, **dict(WARM, value="done")), ("declare", {}, ONE),
       ("countersign", valid(), ONE), ("open", opening(), SEVEN), carried(SEVEN, "begun1", given(ONE, "warm_up")))
turned("citation-carried-answered-here-before", "citation", "carried2", answer(TWO, value="low"), carried(TWO, "oil1"))
turned("citation-carried-left-out-here-before", "citation", "carried2", answer(TWO, left_out="no glass"), carried(TWO, "oil1"))
turned("citation-carried-here-before", "citation", "ground2", carried(TWO, "oil1"))
turned("again-on-an-answer-carried", "again", "ground2", answer(TWO, value="low"))
turned("again-on-a-wait-carried", "again", "ground2", answer(TWO, **dict(WARM, value="done")))
good("again-on-an-answer-carried-with-a-word", "ground2", answer(TWO, value="low", again="other"))
turned("state-carried-to-a-permit-handed-back", "state", "close1", carried(ONE, "oil1"))
turned("state-carried-to-a-closed-permit", "state", "declare2", carried(ONE, "oil1"))
turned("state-carried-to-a-cancelled-permit", "state", "taken", carried(FOUR, "oil2"))
turned("state-carried-to-a-lapsed-permit", "state", "carried6", carried(FIVE, "oil2"))
turned("state-carried-takes-a-declared-permit-back", "state", "carried3b", carried(THREE, "vents1"), ("countersign", valid(), THREE))
good("carried-to-a-live-and-a-suspended-permit", "open3", *issued(SEVEN, GUARDS, answer(SEVEN, step="earth", value="yes")), asked(TWO),
     ON_SEVEN, giving(TWO, 310), ("suspend", {"reason": "x"}, TWO), carried(TWO, given(SEVEN, "earth")))
good("carried-after-the-clock-was-set-back", "carried2", ("clock", {"reason": "x"}, None, {"after_minutes": -40}), carried(TWO, "oil1"))
turned("pprev-an-answer-carried-is-not-harmless", "pprev", "carried3b", carried(THREE, "vents1"),
       ("declare", {}, THREE, {"layer": "said", "damage": lambda s, b: s.update(act_pprev=b.named["declare3"]["hash"])}))
LEFT = answer(THREE, step="ground", deviation=slope())
good("carried-and-then-left-as-a-deviation", "declare3", LEFT, ("declare", {}, THREE),
     ("countersign", valid(limits={"wearers": 1}, deviations=["ground"]), THREE), ("open", opening(), SEVEN), carried(SEVEN, "ground2"))
turned("deviation-on-an-answer-carried-not-accepted", "deviation", "declare3", LEFT, ("declare", {}, THREE), ("countersign", valid(), THREE))
turned("deviation-on-an-answer-carried-twice", "deviation", "declare3", LEFT, LEFT)
turned("rules-2-carried-is-not-judged", "rules", "carried2", ("open", opening(rules=2), SEVEN), carried(SEVEN, NO_HASH, "out1", "oil1", "oil1"),
       verdict="unproven", back=1)
turned("rules-2-carried-from-it", "rules", "carried2", *issued(SEVEN, GUARDS, rules=2), ON_SEVEN, verdict="unproven", back=4)
turned("rules-2-carried-from-it-never-issued", "citation", "carried2", ("open", opening(rules=2), SEVEN), GUARDS, ON_SEVEN)
turned("rules-2-carried-from-it-left-as-a-deviation", "citation", "carried2",
       *issued(SEVEN, GUARDS, answer(SEVEN, step="guards", deviation=slope()), rules=2), ON_SEVEN)
turned("rules-2-carried-answered-since-on-it", "citation", "carried2",
       ("open", opening(rules=2), SEVEN), answer(SEVEN, value="low"), carried(TWO, "oil1"))
good("carried-over-what-was-carried-under-other-rules", "ground2", carried(TWO, "vents1"))
for _name, _change in (("answers-empty", data(answers=[])), ("answers-a-text", data(answers="1" * 64)), ("answers-65", data(answers=["1" * 64] * 65)),
                       ("a-hash-too-short", data(answers=["1" * 63])), ("step-beside", data(step="oil_level")),
                       ("value-beside", data(value="between_marks"))):
    turn("kind-carried-" + _name, "kind", "carried2", "said", _change)
for _m in ("answers", "form"):
    turn("kind-carried-without-" + _m, "kind", "carried2", "said", drop("data", _m))

# 2 a later end
turned("target-given-and-never-asked", "target", "asked1", giving(target="issue1"))
turned("target-given-for-no-line", "target", "given1", giving(target=NO_HASH))
turned("target-given-for-an-older-one-asked", "target", "given1", asked(), giving(target="asked1"))
good("given-for-the-newest-asked", "given1", asked(), giving())
turned("target-given-twice", "target", "outgoing1", giving(minute=290, target="asked1"))
turned("state-given-on-a-suspended-permit", "state", "given1", SUSPEND, giving(target="asked1"))
turned("target-given-after-a-suspension-and-reinstatement", "target", "given1", SUSPEND, *BACK, giving(target="asked1"))
turned("target-given-after-an-event-on-the-set", "target", "given1", ("event", {"what": "drill", "set": SET}, None), *BACK, giving(target="asked1"))
turned("target-given-after-somebody-was-missing", "target", "given1", ("roll_call", {"missing": ["una"]}, ONE), *BACK, giving(target="asked1"))
turned("target-given-after-a-move", "target", "given1", ("moved", {"date": "2026-11-25", "set": SET, "place": "x"}, None), *BACK,
       giving(target="asked1"))
turned("target-given-after-the-clock-was-set", "target", "given1", ("clock", {"reason": "x"}, None), *BACK, giving(target="asked1"))
turned("target-given-after-a-report-written-aside", "target", "given1", aside({"kind": "suspend", "data": {"reason": "x"}, "permit": ONE}),
       *BACK, giving(target="asked1"))
turned("target-given-after-the-shutdown-of-another-permit", "target", "given1", ("open", opening(), SEVEN),
       ("answer", answered("down", value="nobody"), SEVEN), *BACK, giving(target="asked1"))
good("given-after-an-event-on-another-set", "given1", ("event", {"what": "drill", "set": FOX}, None), giving())
good("given-after-an-answer-and-somebody-on-air", "given1", answer(ONE, value="low", again="waited"), ("on_air", {"person": "una"}, ONE), giving())
turned("target-given-for-a-hand-over", "target", "incoming1", giving(minute=290))
turned("target-given-once-it-is-being-handed-over", "target", "given1", leaves(), giving(target="asked1"))
turned("person-given-by-who-asked", "person", "given1c", giving(minute=300, by="bo-tersen"))
turned("person-given-by-who-declared", "person", "open3", asked(TWO), giving(TWO, 310, by="bo-tersen"))
turned("person-given-by-an-operator", "person", "given1", ("extend", valid(280, part="given"), ONE, {"by": "bo-tersen", "role": "operator"}))
turned("person-asked-by-a-supervisor", "person", "asked1c", asked(by="bo-tersen", role="supervisor"))
turned("person-asked-by-another-than-the-holder", "person", "asked1", asked(by="bo-tersen"))
turned("person-asked-by-the-holder-before", "person", "asked1b", asked())
for _name, _job in (("nobody", {}), ("no-text", {"holder": True}), ("another", {"holder": "bo-tersen"})):
    turned("person-asked-where-the-job-names-%s" % _name, "person", "declare1", ("job", {"job": _job}, ONE), ("declare", {}, ONE),
           ("countersign", valid(deviations=["ground"], limits={"wearers": 1}), ONE), asked())
good("asked-by-whom-a-later-job-names", "declare1", ("job", {"job": {"holder": "bo-tersen"}}, ONE), ("declare", {}, ONE),
     ("countersign", valid(deviations=["ground"], limits={"wearers": 1}), ONE), asked(by="bo-tersen"))
turned("state-given-the-same-end", "state", "given1", giving(minute=200))
turned("state-given-an-earlier-end", "state", "given1", giving(minute=199))
turned("state-given-the-later-end-again", "state", "outgoing1", asked(), giving(minute=260))
turned("state-asked-on-a-draft", "state", "declare1", asked())
turned("state-asked-on-a-declared-permit", "state", "issue1", asked())
turned("state-asked-on-a-suspended-permit", "state", "roll1", asked())
turned("state-asked-on-a-permit-handed-back", "state", "close1", asked())
turned("state-asked-on-a-lapsed-permit", "state", "carried6", asked(FIVE))
turned("state-lapsed-where-no-later-end-was-given", "state", "given1", answer(ONE, value="low", again="other"),
       (*answer(ONE, value="low", again="other"), {"after_minutes": 180}))


def at_minute(minute):
    return lambda book: book.add(*answer(ONE, value="low", again="other"), after_minutes=minute - book.minute)


turn("lapsed-not-before-the-later-end-is-good", None, "outgoing1", None, None, "sound", insert=at_minute(260))
turn("state-lapsed-a-minute-after-the-later-end", "state", "outgoing1", None, None, insert=at_minute(261))
for _name, _change in (("one-letter", lambda a, b: a["data"].update(token=a["data"]["token"][:-20] + ("A" if a["data"]["token"][-20] != "A" else "B")
                                                                    + a["data"]["token"][-19:])),
                       ("of-the-countersignature", lambda a, b: a["data"].update(token=b.named["issue1"]["data"]["token"])),
                       ("of-another-end", lambda a, b: a["data"].update(valid_to=at(261))),
                       ("over-the-line-after", lambda a, b: a.update(pprev=b.named["reading1"]["hash"]))):
    turn("token-of-a-later-end-" + _name, "token", "given1", "act", _change)
turned("rules-2-a-later-end-is-not-judged", "rules", "outgoing1", *issued(SEVEN, rules=2), giving(SEVEN, 1, target="issue1"),
       verdict="unproven", back=3)
turned("rules-2-the-token-of-a-later-end-is", "token", "outgoing1", *issued(SEVEN, rules=2),
       (*giving(SEVEN, target="issue1")[:3], {"layer": "act", "damage": lambda a, b: a["data"].update(valid_to=at(3))}))
turn("kind-given-without-token", "kind", "given1", "act", drop("data", "token"))
turn("kind-given-without-valid-by", "kind", "given1", "act", drop("data", "valid_by"))
turn("kind-given-without-valid-to", "kind", "given1", "act", drop("data", "valid_to"))
turn("kind-given-without-target", "kind", "given1", "act", drop("data", "target"))
turn("kind-given-with-until", "kind", "given1", "said", data(until=at(260)))
turn("kind-given-with-reason", "kind", "given1", "said", data(reason="x"))
turn("kind-given-with-entry-permits", "kind", "given1", "said", data(entry_permits=[{"id": "e-17", "until": at(280)}]))
turn("kind-asked-without-reason", "kind", "asked1", "act", drop("data", "reason"))
turn("kind-asked-without-until", "kind", "asked1", "act", drop("data", "until"))
turn("kind-asked-without-part", "kind", "asked1", "act", drop("data", "part"))
turn("kind-asked-with-valid-to", "kind", "asked1", "said", data(valid_to=at(260)))
turn("kind-asked-with-target", "kind", "asked1", "said", data(target=NO_HASH))
turn("kind-asked-with-token", "kind", "asked1", "said", data(token="AW1"))
turn("kind-extend-of-no-part", "kind", "asked1", "act", lambda a, b: a["data"].update(part="wished"))
turn("kind-extend-of-the-other-kinds-part", "kind", "asked1", "act", lambda a, b: a["data"].update(part="outgoing"))
turn("kind-asked-entry-permits-empty", "kind", "asked1", "said", data(entry_permits=[]))
turn("kind-asked-entry-permit-without-until", "kind", "asked1", "said", data(entry_permits=[{"id": "e-17"}]))
turn("kind-asked-until-no-time", "kind", "asked1", "said", data(until="17:00"))
turn("kind-extend-with-a-member-unknown", "kind", "asked1", "said", data(words="x"))
turn("asked-without-entry-permits-is-good", None, "asked1", "said", drop("data", "entry_permits"), "sound", stop=0)

# 3 handed over
turned("person-handed-over-by-another-than-the-holder", "person", "outgoing1", leaves(by="bo-tersen", to="olia-brandt"))
turned("person-handed-over-to-oneself", "person", "outgoing1", leaves(to="olia-brandt"))
turned("person-taken-by-another-than-named", "person", "incoming1", takes(by="lis-arvo"))
turned("person-taken-by-who-handed-it-over", "person", "incoming1", takes(by="olia-brandt"))
turned("person-taken-by-who-issued-it", "person", "on3", leaves(permit=THREE), takes(THREE))
turned("person-taken-by-who-gave-the-later-end", "person", "given1", giving(by="bo-tersen"), leaves(), takes())
turned("person-taken-as-supervisor", "person", "incoming1", (*takes()[:3], {"by": "bo-tersen", "role": "supervisor"}))
turned("person-handed-over-by-the-holder-before", "person", "asked1b", leaves())
turned("target-taken-and-nobody-handed-over", "target", "outgoing1", takes(target="asked1"))
turned("target-taken-for-no-line", "target", "incoming1", takes(target=NO_HASH))
turned("target-taken-for-an-older-hand-over", "target", "incoming1", leaves(), takes(target="outgoing1"))
turned("target-taken-twice", "target", "asked1b", takes(target="outgoing1"))
turned("target-taken-after-a-suspension", "target", "incoming1", SUSPEND, takes())
turned("target-taken-after-a-suspension-and-reinstatement", "target", "incoming1", SUSPEND, *BACK, takes())
turned("target-taken-after-a-reinstatement", "target", "incoming1c", ("reinstate", {"cause": "x"}, ONE), takes(by="olia-brandt"))
turned("target-taken-for-a-later-end", "target", "given1", takes(target="asked1"))
turned("state-handed-over-as-a-draft", "state", "declare1", leaves())
turned("state-handed-over-while-declared", "state", "issue1", leaves())
turned("state-handed-over-once-handed-back", "state", "close1", leaves())
turned("state-taken-once-handed-back", "state", "incoming1", ("answer", answered("down", value="nobody"), ONE), ("hand_back", {}, ONE), takes())
good("taken-with-harmless-lines-between", "incoming1", ("note", {"words": "x"}, ONE), answer(ONE, value="low", again="other"), takes())
good("handed-over-and-asked-by-the-new-holder", "incoming1", takes(), asked(by="bo-tersen"))
good("taken-by-who-relieved-the-attendant", "incoming1",
     ("relieve", {"from": "una", "role": "attendant", "to": "bo-tersen"}, ONE), takes())
turned("rules-2-a-hand-over-is-not-judged", "rules", "outgoing1", *issued(SEVEN, rules=2), takes(SEVEN, target=NO_HASH, by="olia-brandt"),
       verdict="unproven", back=3)
for _m in ("checked", "takes", "to", "unusual", "part"):
    turn("kind-outgoing-without-" + _m, "kind", "outgoing1", "act", drop("data", _m))
turn("kind-outgoing-with-target", "kind", "outgoing1", "said", data(target=NO_HASH))
turn("kind-outgoing-takes-something-else", "kind", "outgoing1", "said", data(takes="half"))
turn("kind-outgoing-checked-something-else", "kind", "outgoing1", "said", data(checked=["fuel", "tea"]))
turn("kind-outgoing-checked-nothing", "kind", "outgoing1", "said", data(checked=[]))
turn("kind-outgoing-to-no-id", "kind", "outgoing1", "said", data(to="Bo Tersen"))
turn("outgoing-with-nobody-staying-is-good", None, "outgoing1", "said", drop("data", "staying"), "sound", stop=0)
turn("kind-incoming-without-target", "kind", "incoming1", "act", drop("data", "target"))
turn("kind-incoming-with-to", "kind", "incoming1", "said", data(to="bo-tersen"))
turn("kind-incoming-with-staying", "kind", "incoming1", "said", data(staying="jorn"))
turn("kind-hand-over-of-the-other-kinds-part", "kind", "incoming1", "act", lambda a, b: a["data"].update(part="given"))

# 4 opened on a set that is here, after a permit that is over
turned("state-open-on-a-released-set", "state", "open4", ("open", opening(), SEVEN))
turned("state-open-under-rules-2-on-a-released-set", "state", "open4", ("open", opening(rules=2), SEVEN))
turned("state-open-on-a-set-released-twice-and-taken-once-and-released", "state", "open5",
       ("released", {"date": "2026-11-25", "set": SET}, None), ("open", opening(), SEVEN))
good("open-on-a-set-released-twice-and-taken-once", "taken", ("released", {"date": "2026-11-25", "set": SET}, None),
     ("taken", {"date": "2026-11-25", "set": SET}, None), ("open", opening(), SEVEN))
good("released-under-a-permit-that-goes-on", "open3", ("released", {"date": "2026-11-25", "set": SET}, None),
     answer(TWO, step="guards", value="yes"), ("on_air", {"person": "una"}, TWO))
turned("state-follows-a-draft", "state", "carried2", ("open", opening(TWO), SEVEN))
turned("state-follows-a-declared-permit", "state", "issue2", ("open", opening(TWO), SEVEN))
turned("state-follows-a-live-permit", "state", "open3", ("open", opening(TWO), SEVEN))
turned("state-follows-a-suspended-permit", "state", "open3", ("suspend", {"reason": "x"}, TWO), ("open", opening(TWO), SEVEN))
turned("state-follows-itself", "state", "open3", ("open", opening(SEVEN), SEVEN))
turned("state-follows-a-permit-never-opened", "state", "open3", ("open", opening("TQ7-261125-99"), SEVEN))
turned("state-follows-a-permit-not-yet-lapsed", "state", "open6", ("open", opening(FIVE), SEVEN))
turned("state-follows-a-permit-that-does-not-lapse-over-somebody-on-air", "state", "open6", ("on_air", {"person": "una"}, FIVE),
       ("open", opening(FIVE), SEVEN, {"after_minutes": 10}))
good("follows-a-cancelled-permit-of-another-set", "taken", ("open", opening(FOUR, set_id=FOX), SEVEN))
turned("rules-2-follows-it", "rules", "open3", ("open", opening(rules=2), SEVEN), ("open", opening(SEVEN), "TQ7-261125-08"),
       verdict="unproven", back=1)
turned("state-follows-under-rules-2-a-live-permit", "state", "open3", ("open", opening(TWO, rules=2), SEVEN))
turn("kind-follows-no-number", "kind", "open2", "said", data(follows="the one before"))

# 5 readings read again, other registers read, copies
turn("kind-seen-and-not-seen", "kind", "issue1", "said", data(not_seen="x"))
turn("kind-not-seen-and-seen", "kind", "issue2", "said", data(seen=[{"step": "vents", "unit": "m", "value": "4"}]))
turn("kind-seen-empty", "kind", "issue1", "said", data(seen=[]))
turn("kind-seen-without-unit", "kind", "issue1", "said", data(seen=[{"step": "vents", "value": "4"}]))
turn("kind-seen-with-a-decimal-comma", "kind", "issue1", "said", data(seen=[{"step": "vents", "unit": "m", "value": "4,0"}]))
turn("kind-seen-with-a-member-unknown", "kind", "issue1", "said", data(seen=[{"step": "vents", "unit": "m", "value": "4", "by": "x"}]))
turn("kind-not-seen-empty", "kind", "issue2", "said", data(not_seen=""))
turn("neither-seen-nor-not-seen-is-good", None, "issue2", "said", drop("data", "not_seen"), "sound", stop=0)
for _m in ("head", "log", "seq", "station", "time", "set"):
    turn("kind-witness-without-" + _m, "kind", "read", "said", drop("data", _m))
turn("kind-witness-held-false", "kind", "read", "said", data(held=False))
turn("kind-witness-seq-a-text", "kind", "read", "said", data(seq="41"))
turn("kind-witness-station-lower-case", "kind", "read", "said", data(station="tq8"))
turn("kind-witness-with-permit-and-set", "kind", "read1", "said", data(set=SET))
turn("kind-witness-with-words", "kind", "read", "said", data(words="x"))
turn("kind-witness-signed", "kind", "read", "body", put(act={}, act_sign="x"))
good("witness-in-any-state", "declare2", ("witness", held(60), ONE))
good("witness-is-harmless", "issue1", ("witness", held(60), ONE), ("countersign", valid(limits={"wearers": 1}, deviations=["ground"]), ONE,
     {"layer": "said", "damage": lambda s, b: s.update(act_pprev=b.named["declare1"]["hash"])}))
turn("citation-air-test-of-no-witness", "citation", "air", "said", lambda s, b: s["data"]["witness"].update(line=NO_HASH))
turn("kind-air-test-witness-without-line", "kind", "air", "said", drop("data", "witness", "line"))
turn("kind-air-test-witness-without-hash", "kind", "air", "said", drop("data", "witness", "hash"))
turn("kind-air-test-witness-with-more", "kind", "air", "said", lambda s, b: s["data"]["witness"].update(station="TQ8"))
turn("kind-copy-of-another-sheet", "kind", "card1", "said", data(sheet="poster"))
turn("kind-copy-taken-down-false", "kind", "card1", "said", data(taken_down=False))
for _label in ("released", "taken"):
    for _m in ("date", "set"):
        turn("kind-%s-without-%s" % (_label, _m), "kind", _label, "said", drop("data", _m))
    turn("kind-%s-with-place" % _label, "kind", _label, "said", data(place="x"))

# 6 over later volumes, and where one is missing
OVER = dict(story=story)
volume("volume2-carried-from-the-first-is-good", None, "sound", stop="carried2", then=[carried(TWO, "begun1", "done1", "oil1")], **OVER)
volume("volume2-carried-not-the-latest-of-the-first", "citation", line=1, stop="carried3", then=[carried(THREE, "oil1")], **OVER)
volume("volume2-carried-and-answered-since", "citation", line=3, stop="carried2", then=[
    ("open", opening(), SEVEN), answer(SEVEN, value="low"), carried(TWO, "oil1")], **OVER)
volume("volume2-lets-what-was-asked-fall", "target", line=3, stop="given1", then=[*BACK, giving(target="asked1")], **OVER)
volume("volume2-lets-a-hand-over-fall", "target", line=1, stop="incoming1", then=[takes(target="outgoing1")], **OVER)
volume("volume2-asked-by-who-took-it-over-in-the-first-is-good", None, "sound", stop="asked1b", then=[*BACK, asked(by="bo-tersen"), giving()], **OVER)
volume("volume2-the-later-end-goes-on-is-good", None, "sound", stop="outgoing1", late=200, then=[*BACK], **OVER)
volume("volume2-lapsed-where-no-later-end-was-given", "state", line=1, stop="given1", late=200, then=BACK[1:], **OVER)
volume("volume2-a-set-released-in-the-first", "state", line=1, stop="open4", then=[("open", opening(), SEVEN)], **OVER)
volume("volume2-a-set-taken-in-the-second-is-good", None, "sound", stop="open4",
       then=[("taken", {"date": "2026-11-25", "set": SET}, None), ("open", opening(), SEVEN)], **OVER)
volume("volume2-follows-one-of-the-first-is-good", None, "sound", stop="open2", then=[("open", opening(ONE), SEVEN)], **OVER)
volume("volume2-follows-a-suspended-one-of-the-first", "state", line=1, stop="open3", then=[("open", opening(TWO), SEVEN)], **OVER)
volume("volume2-reads-a-witness-of-the-first-is-good", None, "sound", stop="open1", then=[
    ("air_test", lambda b: {"date": "2026-11-25", "set": SET, "place": "x", "sampler": "x",
                            "witness": {"hash": NO_HASH, "line": b.named["read"]["hash"]}}, None)], **OVER)
ALONE = dict(OVER, verdict="unproven", at_volume=1, only=(1,))
volume("volume2-alone-carried-from-what-is-not-here", "volume", stop="carried2", then=[
    ("open", opening(), SEVEN), carried(SEVEN, "oil1", NO_HASH)], **ALONE)
volume("volume2-alone-lines-of-a-permit-not-here-are-not-judged", "volume", stop="carried2", then=[
    carried(TWO, NO_HASH), takes(TWO, NO_HASH), answer(TWO, value="x"), answer(TWO, value="x")], **ALONE)
volume("volume2-alone-follows-what-is-not-here", "volume", stop="open2", then=[("open", opening(TWO), SEVEN)], **ALONE)
volume("volume2-alone-opened-on-a-set-released-in-the-first", "volume", stop="open4", then=[("open", opening(), SEVEN)], **ALONE)
volume("volume2-alone-reads-a-witness-not-here", "volume", stop="open1", then=[
    ("air_test", {"date": "2026-11-25", "set": SET, "place": "x", "sampler": "x", "witness": {"hash": NO_HASH, "line": NO_HASH}}, None)], **ALONE)
ALONE = dict(OVER, at_volume=1, only=(1,))
volume("volume2-alone-released-in-it", "state", line=2, stop="open4", then=[
    ("released", {"date": "2026-11-25", "set": FOX}, None), ("open", opening(set_id=FOX), SEVEN)], **ALONE)
volume("volume2-alone-carried-of-the-same-permit", "citation", line=3, stop="carried2", then=[
    ("open", opening(), SEVEN), GUARDS, carried(SEVEN, given(SEVEN, "guards"))], **ALONE)
volume("volume2-alone-carried-a-shutdown-answer", "citation", line=4, stop="carried2", then=[
    ("open", opening(), SEVEN), ("answer", answered("down", value="nobody"), SEVEN), ("open", opening(), SIX), carried(SIX, given(SEVEN, "oil_level"))],
       **ALONE)
volume("volume2-alone-given-and-never-asked", "target", line=4, stop="carried2", then=[
    *issued(SEVEN), giving(SEVEN, 650, target=NO_HASH)], **ALONE)

# 7 excerpts
EXCERPTS = []   # (name, verdict, rule, volume, function giving the bytes, the line at fault and the register's lines)


def cut(name, rule, permit, stop, *lines, verdict="broken", at_line=None, without=(), change=None, volumes=(), gone=(), volume=1):
    """The excerpt of a permit, of the story up to `stop` and these lines, and of later `volumes` of lines, but for those of
    them that are `gone`. The line at fault is the last one, or the one of that name; `without` lines of these names, or with
    one of them changed: (name, old bytes, new). Where it is unproven a line is named by its volume and number."""
    def make():
        book, _ = write(stop, insert=lambda b: added(b, lines), story=story)
        parts = [book.lines]
        for n, more in enumerate(volumes):
            last, before = book.last(), book.log
            book = book.next_volume("%032x" % (n + 1))
            book.add("enrol", dict(enrolment(), before={"log": before, "seq": last["seq"], "head": last["hash"]}))
            added(book, more)
            parts.append(book.lines)
        every = [line for part in parts for line in part]
        hashed = {sha(line[:-1]): line for line in every}
        named = {n: hashed[r["hash"]] for n, r in book.named.items()}
        left_out = [named[n] for n in without] + [line for n in gone for line in parts[n - 1]]
        whole = excerpt(every, permit)
        assert all(named[n] in whole for n in without)
        out = [line for line in whole if line not in left_out]
        if change:
            assert change[1] in named[change[0]] and named[change[0]] in out, change
            new = named[change[0]].replace(change[1], change[2])
            out = [new if line == named[change[0]] else line for line in out]
            named[change[0]] = new
        line = None
        if verdict == "broken":
            line = len(out) - 1 if at_line is None else out.index(named[at_line])
        elif verdict == "unproven":
            line = book.named[at_line]["seq"] if at_line in book.named else at_line
        return b"".join(out), line, None if left_out or change else every
    EXCERPTS.append(("excerpt-" + name, verdict, rule, volume, make))


def whole(name, permit, stop, *lines, **more):
    cut(name + "-is-good", None, permit, stop, *lines, verdict="sound", **more)


DECLARE = ("declare", {}, TWO)
whole("of-later-ends-and-hand-overs", ONE, "open2")
whole("of-answers-carried", TWO, "oil2")
whole("of-answers-carried-again-from-two-permits", THREE, "running2")
whole("of-a-permit-that-follows-another", FIVE, "open6")
whole("of-answers-carried-from-another-set", FOUR, "taken")
cut("of-a-draft-that-nobody-signed", "excerpt", SIX, "last", verdict="unproven", at_line="oil2")
whole("an-answer-carried-is-no-shutdown", TWO, "open3", *issued(SEVEN), asked(TWO), GUARDS, ON_SEVEN, giving(TWO, 310))
cut("a-shutdown-answer-of-another-permit-is-one", "target", TWO, "open3", asked(TWO), ("open", opening(), SEVEN),
    ("answer", answered("down", value="nobody"), SEVEN), ("roll_call", {"found": ["una"]}, SEVEN),
    ("reinstate", {"cause": "x"}, TWO), giving(TWO, 310))
cut("an-event-of-another-permit-lets-a-hand-over-fall", "target", TWO, "open3", leaves(permit=TWO), ("event", {"what": "drill"}, ONE),
    takes(TWO))
cut("somebody-missing-on-another-permit", "state", TWO, "open3", asked(TWO), ("roll_call", {"missing": ["una"]}, ONE), giving(TWO, 310))
cut("given-and-never-asked", "target", TWO, "open3", giving(TWO, 310, target="issue2"))
cut("taken-by-another-than-named", "person", TWO, "open3", leaves(permit=TWO), takes(TWO, by="lis-arvo"))
cut("the-answer-carried-is-not-in-it", "citation", TWO, "oil2", without=["oil1"], at_line="carried2")
cut("the-answer-carried-is-changed", "citation", FOUR, "taken", change=("vents1", b'"value":"4"', b'"value":"5"'), at_line="carried4")
cut("the-answer-carried-is-changed-after-the-line-before", "seal", TWO, "carried2b", DECLARE, at_line="done1",
    change=("done1", b'"value":"done"', b'"value":"gone"'))
cut("the-answer-carried-is-changed-before-the-next-line", "prev", TWO, "oil2", change=("oil1", b"between_marks", b"above_a_mark_"),
    at_line="begun1")
cut("the-beginning-of-a-wait-is-not-in-it", "citation", TWO, "oil2", without=["begun1"], at_line="carried2")
cut("the-line-that-asked-is-not-in-it", "pprev", ONE, "open2", without=["asked1"], at_line="reading1")
cut("the-register-read-is-not-in-it", "citation", ONE, "open2", without=["read"], at_line="air")
cut("the-test-of-the-air-is-not-in-it", "citation", ONE, "open2", without=["air"], at_line="oil1")
cut("carried-was-left-out", "citation", TWO, "carried2", carried(TWO, "oil1", "out1"))
cut("carried-the-deviation-itself", "citation", TWO, "carried2", carried(TWO, "oil1", "left1"))
cut("carried-of-the-same-permit", "citation", TWO, "carried2", answer(TWO, step="guards", value="yes"), carried(TWO, given(TWO, "guards")))
cut("carried-twice-in-one-list", "citation", TWO, "carried2", carried(TWO, "oil1", "oil1"))
cut("carried-the-end-of-a-wait-first", "citation", TWO, "carried2", carried(TWO, "done1", "begun1"))
cut("carried-a-wait-of-two-permits", "citation", THREE, "carried3", *WAITED, carried(THREE, "begun1", given(TWO, "warm_up", "done")))
cut("carried-a-shutdown-answer", "citation", TWO, "carried2", carried(TWO, "shut1"))
cut("carried-names-another-form", "citation", TWO, "carried2", carried(TWO, "oil1", form="down"))
# What only the whole register can show.
whole("carried-not-the-latest-is-not-seen-from-it", THREE, "carried3", carried(THREE, "oil1"), ("declare", {}, THREE))
whole("carried-from-a-draft-is-not-seen-from-it", TWO, "carried2", ("open", opening(), SEVEN), GUARDS, ON_SEVEN, DECLARE)
whole("carried-left-as-a-deviation-is-not-seen-from-it", TWO, "carried2", carried(TWO, "ground1"), DECLARE)
whole("follows-a-live-permit-is-not-seen-from-it", SEVEN, "open3", ("open", opening(TWO), SEVEN), ("declare", {}, SEVEN))
whole("open-on-a-released-set-is-not-seen-from-it", SEVEN, "open4", ("open", opening(), SEVEN), ("declare", {}, SEVEN))
# Over later volumes.
whole("over-the-next-volume", TWO, "carried2", volumes=[[carried(TWO, "begun1", "done1", "oil1"), DECLARE]])
whole("over-the-next-volume-asked-in-it", TWO, "open3", volumes=[[
    ("roll_call", {"found": ["una"]}, TWO), ("reinstate", {"cause": "x"}, TWO), asked(TWO), giving(TWO, 310)]])
cut("over-the-next-volume-asked-before-it", "target", TWO, "open3", asked(TWO), volumes=[[
    ("roll_call", {"found": ["una"]}, TWO), ("reinstate", {"cause": "x"}, TWO), giving(TWO, 310)]])
IN_A_LATER_ONE = [("open", opening(), SEVEN), carried(SEVEN, "oil1", "out1")]
cut("over-the-next-volume-carried-was-left-out", "citation", SEVEN, "carried2", volumes=[IN_A_LATER_ONE])
cut("over-the-next-volume-without-the-first", "volume", SEVEN, "carried2", volumes=[IN_A_LATER_ONE], gone=[1], verdict="unproven", at_line=0)
cut("over-two-volumes-without-the-second", "volume", SEVEN, "carried2", volumes=[[("note", {"words": "x", "set": SET}, None)], IN_A_LATER_ONE],
    gone=[2], verdict="unproven", volume=2, at_line=0)
