//! Products and quotients of quantities that have a name. What is not here is refused.
//!
//! Base units are coherent (m, m2, m3, s, m3/s, m/s), so the values are simply multiplied.
//! Left out on purpose: volt times ampere (VA is not W without the power factor), area times speed
//! (a flow at line pressure is not a flow of free air), pressure times volume (an ideal gas).

use super::Dimension;

/// `left` times `right` = product, in either order. Each row also gives both quotients.
const PRODUCTS: &[(Dimension, Dimension, Dimension)] = &[
    (Dimension::Flow, Dimension::Duration, Dimension::Volume),
    (Dimension::Speed, Dimension::Duration, Dimension::Length),
    (Dimension::Length, Dimension::Length, Dimension::Area),
    (Dimension::Area, Dimension::Length, Dimension::Volume),
];

/// The dimension of a product; `None` where it has no name here. A temperature is never a factor.
pub fn product(left: Dimension, right: Dimension) -> Option<Dimension> {
    match (left, right) {
        (Dimension::Temperature, _) | (_, Dimension::Temperature) => None,
        (Dimension::Number, other) | (other, Dimension::Number) => Some(other),
        (left, right) => PRODUCTS
            .iter()
            .find(|(a, b, _)| (*a == left && *b == right) || (*a == right && *b == left))
            .map(|(_, _, product)| *product),
    }
}

/// The dimension of a quotient; `None` where it has no name here. Equal dimensions give a number,
/// but never temperatures.
pub fn quotient(left: Dimension, right: Dimension) -> Option<Dimension> {
    match (left, right) {
        (Dimension::Temperature, _) | (_, Dimension::Temperature) => None,
        (left, Dimension::Number) => Some(left),
        (left, right) if left == right => Some(Dimension::Number),
        (left, right) => PRODUCTS.iter().filter(|(_, _, product)| *product == left).find_map(|(a, b, _)| {
            if *a == right {
                Some(*b)
            } else if *b == right {
                Some(*a)
            } else {
                None
            }
        }),
    }
}
