//! JSON, as much of it as lines of readings need.

use std::fmt;

use serde::de::{Deserialize, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};

use super::LineFault;

/// A JSON value. Unlike the library's own, an object with a key twice is refused, since one of the two values would be lost
/// unseen. The library bounds the depth (128).
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Json {
    Null,
    Number(f64),
    Text(String),
    Object(Members),
    /// True, false or a list: nothing that a reading is made of.
    Other,
}

/// The members of an object, in order.
pub(super) type Members = Vec<(String, Json)>;

impl<'de> Deserialize<'de> for Json {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(AnyJson)
    }
}

struct AnyJson;

impl<'de> Visitor<'de> for AnyJson {
    type Value = Json;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Json, E> {
        Ok(Json::Null)
    }

    fn visit_bool<E>(self, _: bool) -> Result<Json, E> {
        Ok(Json::Other)
    }

    fn visit_i64<E>(self, number: i64) -> Result<Json, E> {
        Ok(Json::Number(number as f64))
    }

    fn visit_u64<E>(self, number: u64) -> Result<Json, E> {
        Ok(Json::Number(number as f64))
    }

    fn visit_f64<E>(self, number: f64) -> Result<Json, E> {
        Ok(Json::Number(number))
    }

    fn visit_str<E>(self, text: &str) -> Result<Json, E> {
        Ok(Json::Text(text.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Json, A::Error> {
        while items.next_element::<IgnoredAny>()?.is_some() {}
        Ok(Json::Other)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Json, A::Error> {
        let mut members = Members::new();
        while let Some(key) = map.next_key::<String>()? {
            if members.iter().any(|(there, _)| *there == key) {
                return Err(A::Error::custom(format!("the key '{key}' stands there twice")));
            }
            members.push((key, map.next_value()?));
        }
        Ok(Json::Object(members))
    }
}

/// Reads the object that `text` begins with; gives its members and what stands after it.
pub(super) fn object(text: &str) -> Result<(Members, &str), LineFault> {
    let mut values = serde_json::Deserializer::from_str(text).into_iter::<Json>();
    match values.next() {
        Some(Ok(Json::Object(members))) => Ok((members, text.get(values.byte_offset()..).unwrap_or_default())),
        Some(Err(error)) => Err(LineFault::Json(words(&error))),
        _ => Err(LineFault::Json("an object is missing".to_owned())),
    }
}

/// What the library found, without its count of lines: there is only one.
fn words(error: &serde_json::Error) -> String {
    let words = error.to_string();
    words.rsplit_once(" at line ").map_or(words.as_str(), |(words, _)| words).to_owned()
}
