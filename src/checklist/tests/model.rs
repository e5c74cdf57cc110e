//! What a good file becomes.

use super::super::{Before, Each, GoodFor, GoodForScope, Limit, Purpose, StepKind};
use super::read;
use crate::units::{Dimension, Rounding};

const GOOD: &str = "\
checklist: trial
revision: 7
title: { en: Trial, pl: Próba }
for: work
must: [reserve]
stages:
  - stage: first
    title: First
    any_order: true
    steps:
      - step: rotation
        ask: Which way does it turn?
        choice:
          with_arrow: With the arrow
          against: { en: Against it, pl: Przeciw }
        gate: rotation == \"with_arrow\"
        because: Turned the wrong way it pumps no oil.
        fix: Have two phases changed.
        source: common practice, no source
        before: start
        good_for: [supply_point, { hours: 12 }, { site: { months: 3 } }]
  - stage: second
    title: Second
    needs: [first]
    steps:
      - step: reserve
        each: set.cylinders
        ask: Gauge of {{ item.name }}
        reading: { unit: bar, from: 0, to: set.gauge_to, decimals: 0 }
        gate: reserve >= set.reserve_minimum
        because: Below this the reserve may not last.
        fix: Refill it.
        how: Valve closed, needle still.
        source: common practice, no source
        blind: true
        below: true
        may_leave_out: true
  - stage: third
    title: Third
    needs: []
    steps:
      - step: warm
        ask: Let it run
        timed: site.warm_up
      - step: margin
        ask: Margin
        derived: least(reserve) - set.reserve_minimum
        unit: bar
        decimals: 1
        round: down
        gate: margin >= 0 bar
        because: B
        fix: F
        source: S
      - step: tasted
        each: wearer
        ask: How does it taste to {{ wearer.name }}?
        text: true
";

#[test]
fn a_good_file_keeps_everything_it_says() {
    let r = read(GOOD);
    // Two texts are in Polish too, all others not.
    assert_eq!(r.findings.iter().filter(|f| f.code != "missing-language").count(), 0);
    let c = r.checklist.unwrap();
    assert_eq!((c.id(), c.revision(), c.purpose(), c.language()), ("trial", 7, Purpose::Work, "en"));
    assert_eq!(c.title().get("pl"), "Próba");
    assert_eq!(c.must(), ["reserve"]);
    assert_eq!(c.text(), GOOD);
    assert_eq!(c.sha256(), crate::text::sha256_hex(GOOD.as_bytes()));
    assert!(c.stage("first").unwrap().any_order());

    let (_, rotation) = c.step("rotation").unwrap();
    assert_eq!(
        rotation.choices().iter().map(|(i, _)| i.as_str()).collect::<Vec<_>>(),
        ["with_arrow", "against"]
    );
    assert_eq!(rotation.choices()[1].1.get("pl"), "Przeciw");
    assert_eq!(rotation.before(), Before::Start);
    assert_eq!(
        rotation.good_for(),
        [
            GoodFor { scope: GoodForScope::SupplyPoint, site_wide: false },
            GoodFor { scope: GoodForScope::Hours(12), site_wide: false },
            GoodFor { scope: GoodForScope::Months(3), site_wide: true },
        ]
    );
    assert_eq!((rotation.place().line, rotation.place().column), (11, 9));

    let (stage, reserve) = c.step("reserve").unwrap();
    assert_eq!(stage.id(), "second");
    assert_eq!(reserve.each(), Some(&Each::Set("cylinders".into())));
    assert!(reserve.blind() && reserve.below() && reserve.may_leave_out() && !reserve.critical());
    assert_eq!(reserve.before(), Before::Declare);
    assert_eq!(reserve.ask().names(), ["item.name"]);
    let StepKind::Reading(i) = reserve.kind() else { panic!() };
    assert_eq!((i.unit().unwrap().symbol(), i.dimension(), i.decimals()), ("bar", Dimension::Pressure, 0));
    assert!(matches!(i.from(), Limit::Given(d) if d.to_string() == "0"));
    assert!(matches!(i.to(), Limit::Named(e) if e.source() == "set.gauge_to"));

    let (_, margin) = c.step("margin").unwrap();
    let StepKind::Derived(d) = margin.kind() else { panic!() };
    assert_eq!((d.form().unwrap().decimals(), d.form().unwrap().round()), (1, Rounding::Down));
}

#[test]
fn a_stage_needs_what_it_says_and_what_that_needs() {
    let c = read(GOOD).checklist.unwrap();
    assert_eq!(c.needed_by("first"), [""; 0]);
    assert_eq!(c.needed_by("second"), ["first"]);
    assert_eq!(c.needed_by("third"), [""; 0]);
    let c = read(&GOOD.replace("    needs: []\n", "")).checklist.unwrap();
    assert_eq!(c.needed_by("third"), ["first", "second"]);
}
