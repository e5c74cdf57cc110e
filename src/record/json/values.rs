//! A value of the profile as serde knows values: for what is kept beside the register, never for a line.

use super::Json;
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde::{Serialize, Serializer};
use std::fmt;

impl Serialize for Json {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Json::Obj(members) => to.collect_map(members.iter().map(|(name, value)| (name, value))),
            Json::Arr(items) => to.collect_seq(items),
            Json::Str(text) => to.serialize_str(text),
            Json::Int(n) => to.serialize_u64(*n),
            Json::Bool(b) => to.serialize_bool(*b),
        }
    }
}

impl<'de> Deserialize<'de> for Json {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Json, D::Error> {
        from.deserialize_any(Any)
    }
}

struct Any;

impl<'de> Visitor<'de> for Any {
    type Value = Json;

    fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str("a value of the register")
    }

    fn visit_bool<E>(self, b: bool) -> Result<Json, E> {
        Ok(Json::Bool(b))
    }

    fn visit_u64<E>(self, n: u64) -> Result<Json, E> {
        Ok(Json::Int(n))
    }

    fn visit_str<E>(self, text: &str) -> Result<Json, E> {
        Ok(Json::Str(text.into()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Json, A::Error> {
        let mut all = Vec::new();
        while let Some(item) = items.next_element()? {
            all.push(item);
        }
        Ok(Json::Arr(all))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Json, A::Error> {
        let mut all = Vec::new();
        while let Some(member) = members.next_entry()? {
            all.push(member);
        }
        Ok(Json::Obj(all))
    }
}
