//! Tests of quantities: decimal text, conversions against published values, spans, products.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use num_traits::Zero;
use proptest::prelude::*;

fn d(text: &str) -> Decimal {
    Decimal::read(text).unwrap_or_else(|e| panic!("{text}: {e}"))
}

/// One `from` in `to`, to this many decimals, nearest.
fn converted(from: &str, to: &str, decimals: u8) -> String {
    let quantity = Quantity::read(from).unwrap();
    quantity.to_text(unit(to).unwrap(), decimals, Rounding::Nearest).unwrap().to_string()
}

#[test]
fn conversions_agree_with_published_values() {
    // NIST Special Publication 811 (2008), appendix B.8, from memory, to the digits printed there.
    for (from, to, decimals, wanted) in [
        ("1 psi", "kPa", 6, "6.894757"),
        ("1 mmH2O", "kPa", 6, "0.009807"),
        ("1 inH2O", "kPa", 6, "0.249089"),
        ("1 ft", "m", 4, "0.3048"),
        ("1 in", "cm", 2, "2.54"),
        ("1 ft3", "m3", 6, "0.028317"),
        ("1000 ft3", "m3", 5, "28.31685"),
        ("1 hp", "W", 4, "745.6999"),
        ("1 mph", "m/s", 5, "0.44704"),
        ("1 mph", "km/h", 6, "1.609344"),
        ("1 kn", "m/s", 6, "0.514444"),
        ("1 bar", "kPa", 0, "100"),
        ("1000 ft3/min", "m3/min", 5, "28.31685"),
        ("212 °F", "°C", 3, "100.000"),
        ("-40 °F", "°C", 0, "-40"),
        ("37 °C", "°F", 1, "98.6"),
        ("9 dF", "K", 0, "5"),
        // 2216 psi and 153 bar is a usual pair on gauges of small cylinders; worked out here from
        // the factor above: 2216 * 0.06894757 = 152.7878
        ("2216 psi", "bar", 3, "152.788"),
    ] {
        assert_eq!(converted(from, to, decimals), wanted, "{from} in {to}");
    }
    // Decimal multiples: by definition (SI prefixes).
    for (from, to, wanted) in [
        ("0.11 MPa", "bar", "1.1"),
        ("1 m3/h", "L/s", "0.277778"),
        ("1013.25 mbar_abs", "bar_abs", "1.01325"),
        ("50 mmH2O", "bar", "0.004903"),
        ("12 m3/h", "L/min", "200"),
        ("1 L/s", "L/min", "60"),
        ("1 m2", "mm2", "1000000"),
        ("0.5 %", "ppm", "5000"),
        ("7 ml/m3", "ppm", "7"),
        ("1.5 h", "min", "90"),
        ("90 km/h", "m/s", "25"),
        ("1.5 kW", "W", "1500"),
    ] {
        let places = wanted.split_once('.').map_or(0, |(_, part)| u8::try_from(part.len()).unwrap());
        assert_eq!(converted(from, to, places), wanted, "{from} in {to}");
    }
}

#[test]
fn every_row_of_the_table_is_sound() {
    let mut seen = Vec::new();
    for unit in all_units() {
        assert!(!seen.contains(&unit.symbol()), "{unit} stands twice");
        seen.push(unit.symbol());
        let one = d("1").to_exact();
        assert_eq!(unit.from_base(&unit.to_base(&one)), one, "{unit}");
        assert!(unit.to_base(&one) > unit.to_base(&BigRational::zero()), "{unit} runs backwards");
        assert!(!unit.source().is_empty());
        assert_eq!(Unit::find(unit.symbol()).unwrap(), unit);
    }
    for dimension in Dimension::ALL {
        assert_eq!(dimension.usual_unit().is_none(), dimension == Dimension::Number);
        assert!(dimension.usual_unit().is_none_or(|u| u.dimension() == dimension));
    }
    assert_eq!(unit("degC"), unit("°C"));
    assert_eq!(unit("degF").unwrap().symbol(), "°F");
}

#[test]
fn units_with_a_trap_are_refused_with_what_to_write() {
    for (symbol, hint) in [
        ("scfm", "ft3/min"),
        ("acfm", "ft3/min"),
        ("Nm3/h", "m3/h"),
        ("slpm", "L/min"),
        ("barg", "bar"),
        ("psia", "bar_abs"),
        ("mbar", "bar_abs"),
        ("kVA", "kW"),
        ("PS", "kW"),
        ("dB(A)", "plain number"),
        ("mmWC", "mmH2O"),
        ("hPa", "mbar_abs"),
        ("C", "°C"),
        ("l/min", "L/min"),
        ("Bar", "bar"),
        ("KW", "kW"),
        ("m³", "m3"),
        ("hours", "h"),
        ("years", "12 months"),
        ("barr", "bar"),
        ("L/mn", "L/min"),
    ] {
        let refused = Unit::find(symbol).unwrap_err();
        assert!(refused.hint.as_deref().is_some_and(|h| h.contains(hint)), "{symbol}: {refused}");
    }
    assert_eq!(unit("day"), None, "a span is no duration");
}

#[test]
fn decimal_text_is_read_and_kept_as_typed() {
    for text in ["0", "7", "-7", "1.50", "0.000001", "999999999.999999", "-0.5", "10"] {
        assert_eq!(d(text).to_string(), text);
        assert_eq!(Decimal::kept(text).unwrap(), d(text));
    }
    assert_eq!(d("138,5").to_string(), "138.5", "a decimal comma is a point");
    assert_eq!(d("0,125").to_string(), "0.125");
    assert_eq!(d(" 12 ").to_string(), "12");
    assert_eq!(d("1.50").places(), 2);
    assert_eq!(d("1.50").to_exact(), d("1.5").to_exact());
}

#[test]
fn what_is_no_decimal_text_is_refused() {
    for text in [
        "",
        "-",
        "+5",
        "-0",
        "-0.0",
        "-0,0",
        "007",
        "00",
        "01.5",
        ".5",
        "5.",
        "1.2.3",
        "1e3",
        "1E-3",
        "0x10",
        "1_000",
        "1 000",
        "1'000",
        "1,000",
        "12,500",
        "1,2,3",
        "1.000,5",
        "1,000.5",
        "1234567890",
        "0.1234567",
        "١٢",
        "１２",
        "NaN",
        "inf",
        "--5",
        "5-",
        "1\u{a0}000",
        "½",
        "5\n",
        "5\t",
    ] {
        assert!(Decimal::read(text).is_err(), "{text:?}");
    }
    assert!(Decimal::kept("138,5").is_err(), "the record has points only");
    assert_eq!(Decimal::read("1,250").unwrap_err().message, "got \"1,250\", which may mean 1250 or 1.250");
}

#[test]
fn more_decimals_than_a_step_allows_are_refused_not_rounded() {
    assert!(d("138").fits(0).is_ok());
    assert!(d("138.5").fits(1).is_ok());
    assert_eq!(d("138.5").fits(0).unwrap_err().message, "got 138.5, wanted a whole number");
    assert_eq!(d("138.50").fits(1).unwrap_err().message, "got 138.50, wanted at most 1 decimal");
}

#[test]
fn rounding_goes_the_way_it_is_told() {
    let third = d("1").to_exact() / d("3").to_exact();
    let of = |v: &BigRational, r| Decimal::round(v, 2, r).unwrap().to_string();
    assert_eq!(of(&third, Rounding::Down), "0.33");
    assert_eq!(of(&third, Rounding::Up), "0.34");
    assert_eq!(of(&-&third, Rounding::Down), "-0.34");
    assert_eq!(of(&-&third, Rounding::Up), "-0.33");
    assert_eq!(of(&d("0.125").to_exact(), Rounding::Nearest), "0.13");
    assert_eq!(of(&d("-0.125").to_exact(), Rounding::Nearest), "-0.13");
    assert_eq!(of(&d("-0.001").to_exact(), Rounding::Nearest), "0.00", "nought has no sign");
    assert!(Decimal::round(&third, 7, Rounding::Up).is_err());
    assert!(Decimal::round(&(d("999999999").to_exact() + d("1").to_exact()), 0, Rounding::Down).is_err());
}

#[test]
fn words_never_show_nought_for_something() {
    let hair = d("1").to_exact() / d("70000").to_exact();
    let quantity = Quantity { value: hair, dimension: Dimension::Pressure };
    assert_eq!(quantity.words(None, Rounding::Up), "0.001 bar");
    assert_eq!(quantity.words(None, Rounding::Down), "0.00001 bar");
    assert_eq!(Quantity::read("15 MPa").unwrap().words(unit("bar"), Rounding::Up), "150 bar");
    assert_eq!(
        Quantity::read("15 MPa").unwrap().words(unit("L"), Rounding::Up),
        "150 bar",
        "another dimension's unit is not used"
    );
}

#[test]
fn quantities_are_read_with_their_unit() {
    assert_eq!(Quantity::read("150 bar").unwrap(), Quantity::read("15 MPa").unwrap());
    assert_eq!(Quantity::read("20°C").unwrap(), Quantity::read("68 degF").unwrap());
    assert_eq!(Quantity::read("1,5").unwrap().dimension, Dimension::Number);
    assert_ne!(Quantity::read("1 bar").unwrap(), Quantity::read("1 bar_abs").unwrap());
    for text in ["bar", "150  bar", "150 bar x", "1e3 bar", "150 days", "150 scfm", "", "150\u{a0}bar"] {
        assert!(Quantity::read(text).is_err(), "{text:?}");
    }
    assert_eq!(Quantity::unit_shown("< 2 ppm"), unit("ppm"));
}

#[test]
fn spans_are_whole_months_or_days() {
    assert_eq!(read_span("3 months").unwrap(), (3, 0));
    assert_eq!(read_span("1 day").unwrap(), (0, 1));
    for text in [
        "3",
        "months",
        "1.5 months",
        "-3 days",
        "3 weeks",
        "1 year",
        "03 days",
        "99999 days",
        "3  days",
        "3 min",
    ] {
        assert!(read_span(text).is_err(), "{text:?}");
    }
    assert!(read_span("2 weeks").unwrap_err().hint.unwrap().contains("7 days"));
    assert_eq!(span_text(1, 2), "1 month and 2 days");
}

#[test]
fn only_products_with_a_name_exist() {
    use Dimension as D;
    assert_eq!(product(D::Flow, D::Duration), Some(D::Volume));
    assert_eq!(product(D::Duration, D::Flow), Some(D::Volume));
    assert_eq!(quotient(D::Volume, D::Flow), Some(D::Duration));
    assert_eq!(quotient(D::Volume, D::Duration), Some(D::Flow));
    assert_eq!(quotient(D::Length, D::Duration), Some(D::Speed));
    assert_eq!(quotient(D::Area, D::Length), Some(D::Length));
    assert_eq!(quotient(D::Voltage, D::Voltage), Some(D::Number));
    assert_eq!(product(D::Number, D::Pressure), Some(D::Pressure));
    assert_eq!(product(D::Voltage, D::Current), None, "VA is not W");
    assert_eq!(product(D::Pressure, D::Volume), None);
    assert_eq!(quotient(D::Number, D::Duration), None);
    for other in D::ALL {
        assert_eq!(product(D::Temperature, other), None);
        assert_eq!(product(other, D::Temperature), None);
        assert_eq!(quotient(D::Temperature, other), None);
        assert_eq!(quotient(other, D::Temperature), None);
    }
    // 40 L/min for a quarter of an hour: 600 L, by hand.
    let (flow, time) = (Quantity::read("40 L/min").unwrap(), Quantity::read("15 min").unwrap());
    assert_eq!(&flow.value * &time.value, Quantity::read("600 L").unwrap().value);
}

#[test]
fn the_nearest_word_is_a_slip_of_the_finger() {
    assert_eq!(nearest("resreve", ["reserve", "supply"]), Some("reserve"));
    assert_eq!(nearest("leest", ["most", "least"]), Some("least"));
    assert_eq!(nearest("voltage", ["reserve", "supply"]), None);
}

proptest! {
    #[test]
    fn decimal_text_reads_back_as_itself(text in "-?(0|[1-9][0-9]{0,8})(\\.[0-9]{1,6})?") {
        let negative_nought = text.starts_with('-') && text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
        match Decimal::kept(&text) {
            Ok(number) => {
                prop_assert!(!negative_nought);
                prop_assert_eq!(number.to_string(), text);
                prop_assert_eq!(Decimal::round(&number.to_exact(), number.places(), Rounding::Down).unwrap(), number);
            }
            Err(_) => prop_assert!(negative_nought),
        }
    }

    #[test]
    fn foreign_text_never_panics(text in "\\PC{0,40}") {
        let _ = Decimal::read(&text);
        let _ = Quantity::read(&text);
        let _ = Unit::find(&text);
        let _ = read_span(&text);
    }

    /// Small parts are worked with as plain numbers: what comes out is what long ones make.
    #[test]
    fn small_numbers_come_out_as_long_ones_do(a in any::<i64>(), b in any::<i64>(), c in any::<i64>(), d in any::<i64>(), small in any::<bool>(), i in 0_usize..44) {
        let cut = |n: i64| if small { n % 1_000_000 } else { n };
        let fraction = |a: i64, b: i64| BigRational::new(cut(a).into(), if cut(b) == 0 { 1.into() } else { cut(b).into() });
        let (x, y) = (fraction(a, b), fraction(c, d));
        let units: Vec<Unit> = all_units().collect();
        let unit = units[i % units.len()];
        // Ten to the fortieth is beyond every plain number.
        let far = BigRational::from_integer(num_bigint::BigInt::from(10).pow(40));
        let (offset, one) = (unit.to_base(&BigRational::from_integer(0.into())), unit.to_base(&BigRational::from_integer(1.into())));
        let factor = &one - &offset;
        prop_assert_eq!(unit.to_base(&x), &x * &factor + &offset);
        prop_assert_eq!(unit.to_base(&(&x + &far)), (&x + &far) * &factor + &offset);
        prop_assert_eq!(unit.from_base(&x), (&x - &offset) / &factor);
        let (p, q) = (Quantity::number(x.clone()), Quantity::number(y.clone()));
        prop_assert_eq!(p.compare(&q), Some(x.cmp(&y)));
    }

    #[test]
    fn there_and_back_is_exact(number in "-?[1-9][0-9]{0,6}(\\.[0-9]{1,3})?", i in 0_usize..44, j in 0_usize..44) {
        let units: Vec<Unit> = all_units().collect();
        let (a, b) = (units[i % units.len()], units[j % units.len()]);
        let quantity = Quantity::new(&d(&number), &a);
        if let Some(other) = quantity.in_unit(b) {
            prop_assert_eq!(b.to_base(&other), quantity.value);
        } else {
            prop_assert_ne!(a.dimension(), b.dimension());
        }
    }
}

/// A sign that stands in no quantity is told with what was meant; a word with an example of each kind.
#[test]
fn what_is_no_quantity_is_told_with_what_was_meant() {
    let hint = |text: &str| Quantity::read(text).unwrap_err().hint.unwrap();
    assert_eq!(hint("\u{2212}12 °C"), "write -12 °C");
    assert_eq!(hint("\u{2013} 12 °C"), "write -12 °C");
    assert_eq!(hint("\u{2264} 2 ppm"), "write 2 ppm");
    assert_eq!(hint("<= 2 ppm"), "write 2 ppm");
    assert_eq!(hint("\u{2264} 2 parts"), examples());
    assert_eq!(hint("warm"), examples());
    for text in [".nan", ".inf", "-.inf", "."] {
        assert!(Quantity::read(text).unwrap_err().message.contains(&format!("{text:?}")), "{text}");
    }
}
