//! The fields of set, site, job and wearer, and what `last.KIND.FIELD` offers: tables, no code.

use super::Field;

/// Fields of a set file.
pub static SET: &[Field] = &[];
/// Fields of a site file.
pub static SITE: &[Field] = &[];
/// Fields of a job.
pub static JOB: &[Field] = &[];
/// Fields of one wearer of a job (`wearers.*` lists, `wearer.*` inside `each: wearer`).
pub static WEARER: &[Field] = &[];
/// What `last.KIND.FIELD` offers, per line kind.
pub static LAST: &[(&str, &[Field])] = &[];
