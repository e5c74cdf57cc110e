//! The nearest word, for "did you mean".

/// The candidate nearest to a word, if one is near enough to be a slip of the finger: one edit
/// for up to four letters, two for up to eight, else three. Case counts as no edit; the first of equals wins.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let allowed = match word.chars().count() {
        0..=4 => 1,
        5..=8 => 2,
        _ => 3,
    };
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let far = edits(word, candidate);
        if far <= allowed && best.is_none_or(|(least, _)| far < least) {
            best = Some((far, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Edit distance (insert, delete, replace), without regard to case. Words beyond 64 characters
/// are not near anything.
fn edits(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().flat_map(char::to_lowercase).take(65).collect();
    let b: Vec<char> = b.chars().flat_map(char::to_lowercase).take(65).collect();
    if a.len() > 64 || b.len() > 64 {
        return usize::MAX;
    }
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut diagonal = row.first().copied().unwrap_or(0);
        let mut left = i + 1;
        let mut next = vec![left];
        for (above, y) in row.iter().skip(1).zip(&b) {
            left = (left + 1).min(above + 1).min(diagonal + usize::from(x != y));
            diagonal = *above;
            next.push(left);
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}
