//! The QR code, read back by another program's decoder.

use super::sample;
use crate::paper::qr::Matrix;
use crate::paper::sheet::Mark;
use crate::paper::{PaperProblem, PaperSize, render};
use proptest::prelude::*;

fn decoded(token: &str) -> String {
    let matrix = Matrix::of(token).unwrap();
    let grid = rqrr::SimpleGrid::from_func(matrix.width, |x, y| matrix.dark(x, y));
    let (_, content) = rqrr::Grid::new(grid).decode().unwrap();
    content
}

#[test]
fn the_code_says_the_token() {
    let token = sample::token();
    assert_eq!(decoded(&token), token);
    // 206 characters in alphanumeric mode at level M need version 8, 49 modules (ISO/IEC 18004).
    assert_eq!(token.len(), 206);
    assert_eq!(Matrix::of(&token).unwrap().width, 49);
}

#[test]
fn the_drawing_is_the_matrix() {
    let matrix = Matrix::of("AW1.TEST").unwrap();
    let side = (matrix.width + 8) as f32;
    let marks = matrix.draw(0.0, 0.0, side);
    let Some(Mark::Fill { rings, .. }) = marks.last() else { panic!("no shape") };
    for y in 0..matrix.width {
        for x in 0..matrix.width {
            let (cx, cy) = (x as f32 + 4.5, y as f32 + 4.5);
            let inked = rings.iter().any(|r| r[0].0 < cx && cx < r[2].0 && r[0].1 < cy && cy < r[2].1);
            assert_eq!(inked, matrix.dark(x, y), "{x} {y}");
        }
    }
}

#[test]
fn a_token_that_cannot_be_drawn_is_refused() {
    for bad in ["", "aw1", "AW1.\u{2460}", &"A".repeat(513)] {
        assert!(matches!(Matrix::of(bad), Err(PaperProblem::Token { .. })), "{bad}");
    }
    let mut view = sample::live();
    view.token = "lower case".into();
    let problem = render(&view, PaperSize::A4).unwrap_err().to_string();
    assert!(problem.contains("U+006C"), "{problem}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_token_decodes(token in proptest::collection::vec(0_usize..45, 1..512)) {
        let set = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";
        let token: String = token.iter().map(|n| char::from(set[*n])).collect();
        prop_assert_eq!(decoded(&token), token);
    }
}
