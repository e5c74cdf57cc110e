//! The screens: one file for each thing that people do. Handlers are thin: they read a form, give a command, show a view.

pub mod air_test;
pub mod alarm;
pub mod board;
pub mod clock;
pub mod elsewhere;
pub mod entrance;
pub mod opening;
pub mod permit;
pub mod record;
pub mod set;
pub mod signing;
pub mod site;
pub mod walk;
pub mod witness;

use super::form::Form;
use axum::http::Uri;

/// What stands behind the `?` of an address; what cannot be read is nothing.
pub fn query(uri: &Uri) -> Form {
    Form::read(uri.query().unwrap_or_default().as_bytes()).unwrap_or_default()
}
