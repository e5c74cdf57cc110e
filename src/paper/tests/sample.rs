//! Views to draw: every person, set, place and figure here is invented.

use crate::view::*;

fn s(text: &str) -> String {
    text.to_string()
}

pub fn token() -> String {
    format!(
        "AW1.QUA1-261125-01.202611251530.118.{}.{}.{}",
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567ABCDEFGHIJKLMNOPQRST",
        "MFRGGZDFMZTWQ",
        "K7".repeat(51) + "A"
    )
}

fn at(line: u64) -> LineNo {
    LineNo { volume: 1, line }
}

fn statement(label: &str, value: &str, note: &str) -> Statement {
    Statement { about: About::AnyAlarm, label: s(label), value: s(value), note: s(note) }
}

pub fn answer(value: &str, time: &str, standing: Standing, line: u64) -> AnswerView {
    AnswerView {
        value: s(value),
        time: s(time),
        by: s("Marta Lindqvist"),
        standing,
        because: vec![],
        carried: String::new(),
        again: s(""),
        flags: vec![],
        deviation: s(""),
        told: s(""),
        words: s(""),
        line: at(line),
    }
}

pub fn step(id: &str, ask: &str, answers: Vec<AnswerView>) -> StepView {
    let standing = answers.last().map_or(Standing::Waiting, |a| a.standing);
    StepView {
        step: s(id),
        called: s(id),
        item: s(""),
        ask: s(ask),
        standing,
        answers,
        wanted: s(""),
        why: s(""),
        critical: false,
    }
}

fn wearer(name: &str, person: &str, outlet: &str) -> WearerView {
    WearerView {
        name: s(name),
        person: s(person),
        respirator: s("full face mask, demand valve"),
        escape_set: s("15 min, 205 bar"),
        hose: s("H-07"),
        hose_marks: s("VK-20-0117, 40 m, 2 sections"),
        outlet: s(outlet),
        tally: s("off air"),
        since: s(""),
    }
}

fn sign_off(what: &str, name: &str, person: &str, role: &str, line: u64, said: &str) -> SignOff {
    SignOff {
        what: s(what),
        name: s(name),
        person: s(person),
        role: s(role),
        key: s("SHA256:n0TArEaLkEyFiNgErPrInT0123456789abcdefghiJK"),
        time: s("25 Nov 2026 07:41 +01:00"),
        said: s(said),
        line: at(line),
        hash: "3f9a".repeat(16),
    }
}

pub fn live() -> PermitView {
    let hold = AnswerView {
        because: vec![s("cylinder B reads 138 bar, wanted at least 150 bar, short by 12 bar")],
        ..answer("138 bar", "06:58", Standing::Hold, 61)
    };
    let cleared = AnswerView {
        again: s("refilled from the bank of 24 November"),
        ..answer("207 bar", "07:19", Standing::Open, 74)
    };
    let reserve = StepView {
        item: s("cylinder B"),
        wanted: s("at least 150 bar (the set's reserve minimum)"),
        critical: true,
        ..step(
            "reserve_again",
            "Gauge of cylinder B: valve closed, no flow, needle still for two minutes",
            vec![hold, cleared],
        )
    };
    let out = StepView {
        item: s("outlet 4"),
        standing: Standing::OutOfService,
        why: s("coupling leaks; capped and tagged AW-12"),
        ..step("outlet_locks", "Tug each coupling: it stays locked", vec![])
    };
    let not = StepView {
        standing: Standing::NotApplicable,
        why: s("not applicable because the set is driven by mains, not by its own engine"),
        ..step("fuel", "Fuel for the whole permit and a margin", vec![])
    };
    PermitView {
        language: s("en"),
        number: s("QUA1-261125-01"),
        state: StateWord::Live,
        held: false,
        state_words: s("LIVE"),
        state_means: s("People may be put on this air."),
        site: s("Quarrow Basin treatment works"),
        set: s("Set 3, serial RB-2207-118"),
        place: s("Digester 2, lower manway"),
        job: s("Take out the mixer bearing and clean the sump"),
        valid_to: s("25 Nov 2026 16:30 +01:00"),
        valid_because: s("limited by the entry permit EP-4417, which ends first"),
        not_an_entry_permit: s("Air permit. It does not permit entry, hot work or opening of plant."),
        page_one: vec![
            statement(
                "Supply pressure",
                "5.5 – 7.0 bar",
                "at the set's outlet gauge, all respirators flowing",
            ),
            statement("Leave by", "168 bar", "at the set's reserve gauge, while the compressor feeds"),
            statement("Any alarm or change-over", "OUT", "whatever the gauge says"),
            statement("Recall signal", "three long horn blasts, then three tugs on the line", ""),
            statement("Rescue number", "+49 30 5550 0142", "say: Digester 2, lower manway"),
            statement("Assembly point", "B, by the gatehouse", ""),
            statement("Entry watch", "Σοφία Παπαδοπούλου", "channel 7"),
            statement("Attendant", "Marta Lindqvist", "at the set"),
            statement("Most at once", "3 wearers", "4 outlets, 1 out of service"),
            statement("Way out", "9 min", "endurance ≥ 1.5 × way out: 21 min at 115 L/min each"),
            statement("CO in the air", "< 2 ppm", "tested 25 Nov 2026, due 25 Feb 2027"),
            statement("Entry permits", "EP-4417", "ends 16:30"),
        ],
        wearers: vec![
            wearer("Łukasz Żółtowski", "lukasz", "1"),
            wearer("Олег Ковальчук", "oleg", "2"),
            wearer("Ana Sofía Peñalver", "ana", "3"),
        ],
        warnings: vec![
            s("Outlet 4 is out of service: coupling leaks; capped and tagged AW-12."),
            s("Narrowed by the supervisor: not more than two inside at the same time."),
        ],
        flags: vec![],
        stages: vec![
            StageView {
                form: s("Pre-use checks, revision 1"),
                title: s("Where the set stands"),
                steps: vec![
                    step(
                        "ground",
                        "Firm, level and ventilated; nothing parked or vented near the intake",
                        vec![answer("yes", "06:31", Standing::Open, 41)],
                    ),
                    step(
                        "exhaust",
                        "Distance from the intake to the nearest running exhaust",
                        vec![answer("14 m, bearing 220°", "06:33", Standing::Open, 42)],
                    ),
                    not,
                ],
            },
            StageView {
                form: s("Pre-use checks, revision 1"),
                title: s("The reserve"),
                steps: vec![reserve, out],
            },
            StageView {
                form: s("Pre-use checks, revision 1"),
                title: s("The air itself"),
                steps: vec![step(
                    "dew",
                    "Dew point at the longest hose",
                    vec![answer("–23 °C ± 1 °C", "07:25", Standing::Open, 80)],
                )],
            },
        ],
        pictures: pictures(),
        drawn_with: s("airwrit 0.0.0, words 0"),
        day: vec![
            DayView {
                time: s("07:52"),
                words: s("Łukasz Żółtowski on air outside, outlet 1"),
                breach: s(""),
                by: s("Marta Lindqvist"),
                refused: false,
                line: at(121),
            },
            DayView {
                time: s("07:55"),
                words: s("Łukasz Żółtowski in"),
                breach: s(""),
                by: s("Marta Lindqvist"),
                refused: false,
                line: at(122),
            },
        ],
        sign_offs: vec![
            sign_off(
                "Declared",
                "Marta Lindqvist",
                "marta",
                "operator",
                116,
                "I have placed and proved Set 3 for this job. Supply and reserve are enough for three wearers and a way out of 9 minutes. I accept this permit and stay at the set while anyone is on air.",
            ),
            sign_off(
                "Countersigned",
                "Tobias Achterberg",
                "tobias",
                "supervisor",
                119,
                "I have read what was found and re-read cylinder A and the CO monitor myself. I issue this permit to 16:30, with not more than two inside at the same time.",
            ),
        ],
        cautions: vec![s(
            "A record-keeping aid. It does not replace training, the maker's instructions, a competent person's choice of respirator, local law and codes, or looking and listening. It calls nobody and measures nothing by itself.",
        )],
        check_word: s("7 H A 2"),
        token: token(),
        copy: s("Copy 1, at the lower manway"),
        log: "5d0c".repeat(8),
        as_of: at(122),
        as_of_hash: "a17e".repeat(16),
        as_of_utc: s("2026-11-25T06:55:12Z"),
        as_of_at: s("25 Nov 2026 07:51 (+01:00)"),
    }
}

pub fn in_state(state: StateWord) -> PermitView {
    let (words, means) = match state {
        StateWord::Live => ("LIVE", "People may be put on this air."),
        StateWord::Draft => ("DRAFT: NOT A PERMIT", "Nobody goes on this air."),
        StateWord::Declared => ("WAITING FOR THE SUPERVISOR: NOT A PERMIT", "Nobody goes on this air."),
        StateWord::Suspended => ("SUSPENDED", "Nobody goes on this air. Everyone on it comes out."),
        StateWord::HandedBack => ("HANDED BACK", "Nobody goes on this air."),
        StateWord::Closed => ("CLOSED", "Nobody goes on this air."),
        StateWord::Refused => ("REFUSED", "Nobody goes on this air."),
        StateWord::Cancelled => ("CANCELLED", "Nobody goes on this air."),
        StateWord::Lapsed => ("LAPSED", "Its time ran out. Nobody goes on this air."),
    };
    let mut view = live();
    view.state = state;
    view.state_words = s(words);
    view.state_means = s(means);
    if state != StateWord::Live {
        view.valid_to = s("not valid");
        view.valid_because = s("");
    }
    view
}

/// Live, and nobody may be put on its air for now.
pub fn held() -> PermitView {
    PermitView {
        held: true,
        state_words: s("HELD"),
        state_means: s("Nobody goes on this air until 2 checks are in order again."),
        ..live()
    }
}

pub fn draft() -> PermitView {
    let mut view = in_state(StateWord::Draft);
    view.sign_offs.clear();
    view.day.clear();
    view.check_word.clear();
    view.token.clear();
    view
}

pub fn long() -> PermitView {
    let mut view = live();
    let names = [
        "Łukasz Żółtowski",
        "Олег Ковальчук",
        "Αικατερίνη Παπαθανασίου-Οικονόμου",
        "Þórdís Ósk Guðmundsdóttir",
        "Ștefan Brâncoveanu",
        "Наталія Їжакевич",
        "Γιώργος Ξενάκης",
        "Đorđe Čavić",
        "Zoë van der Wijngaarden-Oosterhout",
        "Nguyễn Thị Ánh",
        "José Ibáñez",
        "李 明",
    ];
    view.wearers = names
        .iter()
        .enumerate()
        .map(|(n, name)| wearer(name, &format!("w-{n}"), &format!("{}", n + 1)))
        .collect();
    view.stages = (0..8)
        .map(|st| StageView {
            form: s(if st < 7 { "Pre-use checks, revision 1" } else { "Shutdown, revision 2" }),
            title: format!("Stage {}: invented for length", st + 1),
            steps: (0..12)
                .map(|n| {
                    let line = 100 + st * 20 + n;
                    let mut answers = vec![];
                    if n % 3 == 0 {
                        answers.push(AnswerView { because: vec![format!("reads {} bar, wanted at least 150 bar, short by {} bar", 130 + n, 20 - n)], ..answer(&format!("{} bar", 130 + n), "06:40", Standing::Hold, line) });
                    }
                    answers.push(AnswerView { again: s(if n % 3 == 0 { "tightened the union and read again" } else { "" }), ..answer(&format!("{} bar", 190 + n), "07:02", Standing::Open, line + 1) });
                    StepView { wanted: s("at least 150 bar"), critical: n % 4 == 0, ..step(&format!("step_{st}_{n}"), "A made-up question about a gauge that stands somewhere on the set and must be read with the flow shut off", answers) }
                })
                .collect(),
        })
        .collect();
    view.day = (0..200)
        .map(|n| DayView {
            time: format!("{:02}:{:02}", 8 + n / 30, n * 2 % 60),
            words: format!(
                "{} {}",
                names[n as usize % names.len()],
                ["on air outside, outlet 2", "in", "out, still on air", "off air, mask off in clean air"]
                    [n as usize % 4]
            ),
            breach: s(if n % 41 == 7 { "in without the entry watch at the entry" } else { "" }),
            by: s(names[(n as usize + 1) % names.len()]),
            refused: false,
            line: at(400 + n),
        })
        .collect();
    view
}

/// A card with so many wearers, the first long ones, one of them on air.
pub fn card(state: StateWord, wearers: usize) -> CardView {
    let view = in_state(state);
    let named = |n: usize| view.page_one[n].clone();
    let order =
        |alarm: &str, order: &str, set: &str| OrderView { alarm: s(alarm), order: s(order), set: s(set) };
    let mut planned = long().wearers;
    planned.rotate_left(2);
    planned.truncate(wearers);
    for w in &mut planned {
        w.respirator = s("Heron full face, demand, positive pressure");
        w.hose = s("Yellow 12, 60 m");
        w.outlet = s("Green outlet");
    }
    if let Some(w) = planned.first_mut() {
        w.tally = s("in");
        w.since = s("07:55");
    }
    let whose = "ITS WEARER: ESCAPE SET, OUT. ALL OTHERS OUT OF THE PLACE AT ONCE";
    let at_zero = "Stop the set when the last is off air; at once only on smoke or fire";
    CardView {
        language: view.language.clone(),
        number: view.number.clone(),
        state: Some(state),
        held: view.held,
        state_words: view.state_words.clone(),
        state_means: view.state_means.clone(),
        site: view.site.clone(),
        set: view.set.clone(),
        place: view.place.clone(),
        valid_to: view.valid_to.clone(),
        valid_because: view.valid_because.clone(),
        check_word: view.check_word.clone(),
        as_of: Some(view.as_of),
        as_of_hash: view.as_of_hash.clone(),
        as_of_utc: view.as_of_utc.clone(),
        as_of_at: s("07:51"),
        copy: s("copy 2, to hang: “on the drawbar of the set, left side”"),
        rules: vec![
            s("ANY ALARM OR CHANGE-OVER: EVERYONE OUT"),
            s("Signal first. Nobody works on reserve. Masks stay on until clean air."),
            s(
                "Signal first, then watch every hose. Nobody goes in but the rescuers named. Do not stop the set.",
            ),
        ],
        not_an_entry_permit: view.not_an_entry_permit.clone(),
        warnings: vec![s("OUT OF LIMITS: supply read at 4.6 bar, wanted at least 5.2 bar, at 09:40")],
        signal: named(3),
        calls: vec![named(4), named(5), statement("Radio", "channel 7, call word Digester", ""), named(6)],
        gauges: vec![named(1), named(0)],
        limits: vec![
            statement("Carbon monoxide, everyone out at", "4 ppm or more", ""),
            statement("Gauges read every", "10 min", ""),
            statement("Longest spell on air", "45 min", ""),
            statement("Way out", "13 min", ""),
        ],
        cylinders: vec![s("A"), s("B")],
        orders: vec![
            order("Carbon monoxide", "OUT NOW, ON ESCAPE SETS WHERE WORN, NOT THE RESERVE", at_zero),
            order("Supply low or lost, change-over", "OUT NOW, ON THE RESERVE", ""),
            order("High temperature, oil in the air", "OUT NOW, ON THE RESERVE", at_zero),
            order("A wearer does not answer", "ALL OTHERS OUT", ""),
            order("Something is wrong with a hose", whose, ""),
            order("Something is wrong with a respirator", whose, ""),
            order("Fire or smoke", "OUT NOW", at_zero),
            order("Any other alarm, any doubt", "OUT NOW, WHATEVER", ""),
        ],
        wearers: planned,
        rescuers: vec![s("Павло Стрижаков"), s("Inês Andorinha de Vasconcelos")],
    }
}

/// One of each kind.
pub fn pictures() -> Vec<Picture> {
    let s = String::from;
    let picture =
        |title: &str, shows| Picture { title: title.to_owned(), alt: format!("{title}, in words"), shows };
    let bar = |label: &str, share, within, met| Bar {
        label: label.to_owned(),
        value: s("1.5 ppm, may be 1.8 ppm"),
        wanted: s("at most 5 ppm"),
        share,
        within,
        met,
    };
    vec![
        picture(
            "Leave by, over the number of wearers",
            Shows::Columns {
                each: vec![(61.0, s("61 bar")), (109.0, s("109 bar")), (153.0, s("153 bar"))],
                planned: 2,
                there: (207.0, s("207 bar")),
            },
        ),
        picture(
            "Pressure from the set to each mask",
            Shows::Falls(vec![Fall {
                label: s("Ada Nowak"),
                set: (5.5, s("5.5 bar")),
                mask: (4.92, s("4.92 bar")),
                least: (4.0, s("4 bar")),
            }]),
        ),
        picture(
            "The air test",
            Shows::Bars(vec![
                bar("carbon monoxide", 0.36, false, true),
                bar("oil", 1.8, false, false),
                bar("oxygen", 0.4, true, true),
                bar("water", f32::INFINITY, false, false),
            ]),
        ),
        picture(
            "Where the set stands",
            Shows::Around {
                wind: 240.0,
                wind_words: s("wind 3.1 m/s from 240 deg"),
                exhaust: 60.0,
                exhaust_words: s("nearest exhaust, 41 m"),
                words: vec![s("nearest vent or store 25 m"), s("intake 1.8 m above ground")],
            },
        ),
        picture(
            "The day in one line",
            Shows::Times {
                from: 0,
                to: 18_000,
                ticks: (0..6).map(|n| (n * 3600, format!("{:02}:00", 7 + n))).collect(),
                lanes: vec![
                    Lane {
                        label: s("Ada Nowak"),
                        spans: vec![
                            Span { from: 600, to: 900, inside: false },
                            Span { from: 900, to: 3000, inside: true },
                            Span { from: 3000, to: 3050, inside: false },
                        ],
                    },
                    Lane { label: s("Νίκος Θαλασσινός"), spans: vec![] },
                ],
                moments: vec![
                    Moment { at: 0, words: s("issued") },
                    Moment { at: 900, words: String::new() },
                    Moment { at: 2990, words: s("supply low") },
                    Moment { at: 3000, words: s("everyone out") },
                    Moment { at: 17_999, words: s("a word at the very end of the day") },
                ],
            },
        ),
    ]
}
