//! The chain: every rule a line can break, every bit.

use crate::support::Station;
use airwrit::record::chain::Chain;
use airwrit::record::line::Line;
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

/// Every bit of the demo's whole register, a real day of 251 lines.
#[test]
#[ignore = "takes minutes; .ci/run runs it by name, in release"]
fn every_bit_of_the_demo_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    airwrit::cli::demo::play(&folder.path().join("demo"), &mut std::io::sink()).unwrap();
    let bytes = std::fs::read(folder.path().join("demo/register/0001.jsonl")).unwrap();
    let mut chains: Vec<(usize, usize, Option<Chain>)> = Vec::new();
    let (mut at, mut chain) = (0, None::<Chain>);
    for line in scan(&bytes).lines {
        let end = at + line.raw.len();
        chains.push((at, end, chain.clone()));
        match &mut chain {
            None => chain = Some(Chain::first(&line).unwrap()),
            Some(c) => c.next(&line).unwrap(),
        }
        at = end + 1;
    }
    let good = |start: usize, raw: &[u8], chain: &Option<Chain>| match Line::read(raw) {
        Err(_) => false,
        Ok(line) => match chain {
            None => Chain::first(&line).is_ok() && start == 0,
            Some(c) => c.check(&line).is_ok(),
        },
    };
    let next = std::sync::atomic::AtomicUsize::new(0);
    let flips = std::sync::atomic::AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    let Some((start, end, chain)) = chains.get(i) else { break };
                    let mut raw = bytes[*start..*end].to_vec();
                    for bit in 0..raw.len() * 8 {
                        raw[bit / 8] ^= 1 << (bit % 8);
                        // A line break that comes in leaves two lines: the first of them decides.
                        let head = raw.iter().position(|b| *b == b'\n').unwrap_or(raw.len());
                        assert!(!good(*start, &raw[..head], chain), "line {i}, bit {bit}");
                        raw[bit / 8] ^= 1 << (bit % 8);
                    }
                    // The line break itself: this line and the next become one.
                    for bit in 0..8 {
                        let mut joined = bytes[*start..].to_vec();
                        joined[end - start] ^= 1 << bit;
                        let head = joined.iter().position(|b| *b == b'\n').unwrap_or(joined.len());
                        assert!(!good(*start, &joined[..head], chain), "line {i}, its end, bit {bit}");
                    }
                    flips.fetch_add((raw.len() + 1) * 8, std::sync::atomic::Ordering::Relaxed);
                }
            });
        }
    });
    let flips = flips.into_inner();
    println!("{flips} bits flipped, every one refused");
    assert_eq!(flips, bytes.len() * 8);
}
