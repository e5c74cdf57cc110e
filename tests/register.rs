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

/// From this length on a line is one of the texts; of it one bit of every byte is flipped, and every bit near its ends.
const LONG: usize = 8192;
/// From this length on it is a form in several languages: one bit of every 32nd byte.
const LONGER: usize = 1 << 16;
const NEAR: usize = 256;

/// Bits of a line that are flipped: every one; of a long line, unless `every` is asked for, those that count most.
fn bits_of(len: usize, every: bool) -> Vec<usize> {
    let near = |byte: usize| byte < NEAR || byte + NEAR >= len;
    let all = (0..len * 8).filter(|bit| {
        let byte = bit / 8;
        every || len < LONG || near(byte) || bit % 8 == byte % 8 && (len < LONGER || byte % 32 == 0)
    });
    all.collect()
}

/// The demo's whole register, a real day, bit by bit: every bit of its lines, of the few long ones (the texts of set
/// and site) every byte, of the forms every 32nd. `AIRWRIT_EVERY_BIT=1` takes every bit of those too, and half an hour.
#[test]
#[ignore = "takes minutes; .ci/run runs it by name"]
fn the_demo_is_refused_with_any_bit_flipped() {
    let folder = tempfile::tempdir().unwrap();
    airwrit::cli::demo::play(&folder.path().join("demo"), &mut std::io::sink()).unwrap();
    let bytes = std::fs::read(folder.path().join("demo/register/0001.jsonl")).unwrap();
    let every = std::env::var_os("AIRWRIT_EVERY_BIT").is_some();
    let mut work: Vec<(usize, usize, Option<Chain>, Vec<usize>)> = Vec::new();
    let (mut at, mut chain) = (0, None::<Chain>);
    for line in scan(&bytes).lines {
        let end = at + line.raw.len();
        // In pieces, so that one long line does not keep one processor alone.
        for piece in bits_of(line.raw.len(), every).chunks(8192) {
            work.push((at, end, chain.clone(), piece.to_vec()));
        }
        match &mut chain {
            None => chain = Some(Chain::first(&line).unwrap()),
            Some(c) => c.next(&line).unwrap(),
        }
        // The line break itself: this line and the next become one.
        for bit in 0..8 {
            let mut joined = bytes[at..].to_vec();
            joined[end - at] ^= 1 << bit;
            let head = joined.iter().position(|b| *b == b'\n').unwrap_or(joined.len());
            assert!(Line::read(&joined[..head]).is_err(), "line at {at}, its end, bit {bit}");
        }
        at = end + 1;
    }
    assert_eq!(at, bytes.len());
    let good = |start: usize, raw: &[u8], chain: &Option<Chain>| match Line::read(raw) {
        Err(_) => false,
        Ok(line) => match chain {
            None => Chain::first(&line).is_ok() && start == 0,
            Some(c) => c.check(&line).is_ok(),
        },
    };
    for (start, end, chain, _) in &work {
        assert!(good(*start, &bytes[*start..*end], chain), "without damage it checks");
    }
    let next = std::sync::atomic::AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    let Some((start, end, chain, bits)) = work.get(i) else { break };
                    let mut raw = bytes[*start..*end].to_vec();
                    for bit in bits {
                        raw[bit / 8] ^= 1 << (bit % 8);
                        // A line break that comes in leaves two lines: the first of them decides.
                        let head = raw.iter().position(|b| *b == b'\n').unwrap_or(raw.len());
                        assert!(!good(*start, &raw[..head], chain), "line at {start}, bit {bit}");
                        raw[bit / 8] ^= 1 << (bit % 8);
                    }
                }
            });
        }
    });
    let flips: usize = work.iter().map(|w| w.3.len()).sum();
    println!("{flips} of {} bits flipped, every one refused", bytes.len() * 8);
    assert!(flips > bytes.len(), "most bits of every line but the texts");
}
