//! Stand-in for the gate language until it is merged.
use crate::gate::{Missed, Name, Problem, Scope, Type};

/// A condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gate(Expression);
/// A typed expression.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Expression {
    source: String,
    ty: Type,
    names: Vec<Name>,
}
impl Gate {
    /// Parses.
    pub fn parse(source: &str, scope: &dyn Scope) -> Result<Gate, Vec<Problem>> {
        Ok(Gate(Expression { ty: Type::Bool, ..Expression::parse(source, scope)? }))
    }
    /// As written.
    pub fn source(&self) -> &str {
        &self.0.source
    }
    /// Names.
    pub fn names(&self) -> Vec<Name> {
        self.0.names.clone()
    }
}
impl Expression {
    /// Parses.
    pub fn parse(source: &str, scope: &dyn Scope) -> Result<Expression, Vec<Problem>> {
        let mut names = Vec::new();
        let mut problems = Vec::new();
        let mut ty = Type::Quantity(crate::units::Dimension::Duration);
        for (at, t) in super::tokens::tokens(source) {
            let name: Name = t.split('.').map(str::to_owned).collect();
            let plain = t.bytes().all(|b| b.is_ascii_lowercase() || b == b'_' || b == b'.');
            if !plain || super::tokens::is_word(t) || t.len() < 4 {
                continue;
            }
            match scope.look_up(&name) {
                Ok(k) => {
                    ty = k.ty;
                    names.push(name);
                }
                Err(Missed::NoSuchName { nearest }) => problems.push(Problem {
                    code: "unknown-name",
                    at,
                    message: format!("nothing is called {t}"),
                    hint: nearest,
                }),
                Err(Missed::NotHere(message)) => {
                    problems.push(Problem { code: "not-here", at, message, hint: None })
                }
            }
        }
        if problems.is_empty() {
            Ok(Expression { source: source.to_owned(), ty, names })
        } else {
            Err(problems)
        }
    }
    /// Type.
    pub fn ty(&self) -> &Type {
        &self.ty
    }
    /// As written.
    pub fn source(&self) -> &str {
        &self.source
    }
    /// Names.
    pub fn names(&self) -> Vec<Name> {
        self.names.clone()
    }
}
/// Dimension of a unit.
pub fn unit(text: &str) -> Option<crate::units::Dimension> {
    use crate::units::Dimension as D;
    Some(match text {
        "bar" => D::Pressure,
        "min" | "s" | "h" => D::Duration,
        "ppm" | "%" => D::Fraction,
        "°C" => D::Temperature,
        "L" => D::Volume,
        "L/min" => D::Flow,
        "m" => D::Length,
        _ => return None,
    })
}
