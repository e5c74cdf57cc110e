//! The chain: every rule a line can break, every bit.

use crate::support::Station;
use airwrit::record::chain::Chain;
use airwrit::record::store::{scan, scan_after};
use airwrit::trust::Role;

#[test]
fn twelve_lines_check() {
    let s = Station::twelve_lines();
    let bytes = s.bytes();
    let scan = scan(&bytes);
    assert_eq!(scan.bad, None);
    assert_eq!(scan.lines.len(), 12);
    assert_eq!(scan.end, bytes.len());
}

/// Every single-bit flip of a 12-line register is refused: the chain stops before the end. Lines
/// before the damaged one are checked once, since no line's check looks ahead.
#[test]
fn every_bit_flip_is_refused() {
    let bytes = Station::twelve_lines().bytes();
    let mut chains = vec![(0, None)];
    for line in scan(&bytes).lines {
        let (end, mut chain): (usize, Option<Chain>) = chains.last().unwrap().clone();
        match &mut chain {
            None => chain = Some(Chain::first(&line).unwrap()),
            Some(c) => c.next(&line).unwrap(),
        }
        chains.push((end + line.raw.len() + 1, chain));
    }
    let threads = std::thread::available_parallelism().map_or(2, usize::from);
    let flips = bytes.len() * 8;
    std::thread::scope(|scope| {
        for t in 0..threads {
            let (bytes, chains) = (&bytes, &chains);
            scope.spawn(move || {
                let mut damaged = bytes.clone();
                for flip in (t..flips).step_by(threads) {
                    damaged[flip / 8] ^= 1 << (flip % 8);
                    let (start, chain) = chains.iter().rev().find(|(start, _)| *start <= flip / 8).unwrap();
                    let rest = scan_after(chain.clone(), &damaged[*start..]);
                    assert!(rest.bad.is_some() || rest.end < damaged.len() - start, "bit {flip}");
                    damaged[flip / 8] ^= 1 << (flip % 8);
                }
            });
        }
    });
    println!("{flips} flips refused");
}

#[test]
fn the_declarer_may_not_countersign_nor_may_a_stranger() {
    let mut s = Station::enrolled();
    s.texts();
    let n = "KW2-261125-01";
    s.open_permit(n);
    let d = s.act(n, "declare", "jan-kos", Role::Operator, vec![]);
    s.add(d);
    let own = s.countersign(n, "jan-kos");
    let refused = |r: Result<_, airwrit::record::store::Problem>| match r {
        Err(airwrit::record::store::Problem::CouldNot(why)) => why,
        Err(other) => format!("{other:?}"),
        Ok(_) => "kept".to_owned(),
    };
    assert!(refused(s.try_add(own)).contains("may not countersign"));
    let operator = s.countersign(n, "ola-brzoza");
    assert!(refused(s.try_add(operator)).contains("may not sign as supervisor"));
    let good = s.countersign(n, "per-lind");
    s.answer(n, "pre-start", "oil_level", "yes");
    assert!(refused(s.try_add(good)).contains("pprev"), "the permit moved on");
}
