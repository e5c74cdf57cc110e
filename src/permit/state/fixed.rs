//! Words of the program's own tables, written as they are and read as one of the table.

/// Such a word; by this name, for behind `&str` a borrowed text is supposed.
pub type Word = &'static str;

pub(super) mod kind {
    //! A kind of line.
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(kind: &str, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(kind)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<&'static str, D::Error> {
        let name = String::deserialize(from)?;
        let kind = crate::record::kinds::kind(&name);
        kind.map(|k| k.name).ok_or_else(|| D::Error::custom(format_args!("no kind of line {name}")))
    }
}

pub(super) mod role {
    //! A role.
    use crate::trust::Role;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(role: &str, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(role)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<&'static str, D::Error> {
        let word = String::deserialize(from)?;
        Role::read(&word).map(Role::word).ok_or_else(|| D::Error::custom(format_args!("no role {word}")))
    }
}

pub(super) mod by_kind {
    //! Something by kind of line.
    use super::super::Happened;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};
    use std::collections::BTreeMap;

    pub fn serialize<S: Serializer>(
        all: &BTreeMap<&'static str, Happened>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        // Each says its own kind.
        all.values().collect::<Vec<_>>().serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<BTreeMap<&'static str, Happened>, D::Error> {
        Ok(Vec::<Happened>::deserialize(from)?.into_iter().map(|h| (h.kind, h)).collect())
    }
}
