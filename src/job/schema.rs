//! The JSON Schema of the job file, from the same table that the reader checks against.

use super::done::OPEN;
use crate::quantity::Ohms;
use serde_json::{Map, Value, json};

use super::keys::{self, Key, Section, Shape};

/// The JSON Schema (draft 2020-12) of the job file, for editors that complete and check as one
/// types: every key with its meaning, unit, range or valid words.
pub fn schema() -> String {
    let mut root = object(keys::JOB.keys);
    root.insert(
        "$schema".to_owned(),
        json!("https://json-schema.org/draft/2020-12/schema"),
    );
    root.insert("title".to_owned(), json!("meltstair job"));
    let mut text = format!("{:#}", Value::Object(root));
    text.push('\n');
    text
}

fn object(keys: &[Key]) -> Map<String, Value> {
    let properties: Map<String, Value> = keys
        .iter()
        .map(|key| (key.name.to_owned(), described(key)))
        .collect();
    let required: Vec<&str> = keys.iter().filter(|k| k.must).map(|k| k.name).collect();
    let mut object = Map::new();
    object.insert("type".to_owned(), json!("object"));
    object.insert("properties".to_owned(), Value::Object(properties));
    if !required.is_empty() {
        object.insert("required".to_owned(), json!(required));
    }
    object.insert("additionalProperties".to_owned(), json!(false));
    object
}

fn section(section: &Section) -> Value {
    Value::Object(object(section.keys))
}

fn described(key: &Key) -> Value {
    let mut value = shape(key.shape);
    let about = match unit(key.shape) {
        Some(unit) => format!("{} ({unit})", key.about),
        None => key.about.to_owned(),
    };
    if let Value::Object(map) = &mut value {
        map.insert("description".to_owned(), json!(about));
    }
    value
}

fn unit(shape: Shape) -> Option<&'static str> {
    match shape {
        Shape::Number(unit, ..) | Shape::Numbers(unit, ..) | Shape::OneOrTwo(unit, ..) => {
            Some(unit)
        }
        Shape::Temperature(..) | Shape::Temperatures | Shape::Pins => Some("°C"),
        Shape::Readings => Some("Ω"),
        _ => None,
    }
}

fn one_or_many(one: &Value) -> Value {
    json!({"anyOf": [one, {"type": "array", "items": one}]})
}

fn shape(shape: Shape) -> Value {
    let id = json!({"type": ["string", "number"]});
    match shape {
        Shape::Id | Shape::Name => id,
        Shape::Text => json!({"type": ["string", "number"]}),
        Shape::Names => one_or_many(&id),
        Shape::Word(words) => json!({"enum": words}),
        Shape::Flag => json!({"type": "boolean"}),
        Shape::Number(_, from, to) => json!({"type": "number", "minimum": from, "maximum": to}),
        Shape::Whole(from, to) => json!({"type": "integer", "minimum": from, "maximum": to}),
        Shape::Rounds => one_or_many(&json!({"type": "integer", "minimum": 0})),
        Shape::Temperature(from, to) => temperature(from, to),
        Shape::OneOrTwo(_, from, to) => {
            let one = json!({"type": "number", "minimum": from, "maximum": to});
            json!({"anyOf": [one, {"type": "array", "minItems": 1, "maxItems": 2, "items": one}]})
        }
        Shape::Numbers(_, least, most, from, to) => json!({
            "type": "array", "minItems": least, "maxItems": most,
            "items": {"type": "number", "minimum": from, "maximum": to},
        }),
        Shape::Alloys => json!({"type": ["array", "null"], "items": alloy()}),
        Shape::Alloy => alloy(),
        Shape::AlloyChoice => one_or_many(&alloy()),
        Shape::Content => json!({"anyOf": [
            alloy(),
            {"type": "array", "items": alloy(), "minItems": 1},
            {"type": "object", "required": ["one_of"], "additionalProperties": false,
             "properties": {"one_of": {"type": "array", "items": alloy(), "minItems": 1}}},
        ]}),
        Shape::Pins => json!({"type": "object", "additionalProperties": pin()}),
        Shape::Couplings => json!({
            "type": "object",
            "additionalProperties": {"type": "number", "minimum": 0, "maximum": keys::MOST_COUPLING},
        }),
        Shape::Temperatures => json!({
            "type": "object",
            "additionalProperties": temperature(keys::ANYWHERE.0, keys::ANYWHERE.1),
        }),
        Shape::Readings => json!({
            "type": "object",
            "additionalProperties": {"anyOf": [
                {"type": "number", "minimum": 0, "maximum": Ohms::OPEN.ohms()},
                {"const": OPEN},
            ]},
        }),
        Shape::After => json!({"anyOf": [
            id, {"type": "array", "items": id},
            {"type": "object", "additionalProperties": {"type": ["string", "number", "null"]}},
        ]}),
        Shape::Block(inner) => section(inner),
        Shape::Blocks(inner) => json!({"type": ["array", "null"], "items": section(inner)}),
        Shape::Deposits(inner) => {
            one_or_many(&json!({"anyOf": [{"type": "string"}, section(inner)]}))
        }
        Shape::Each => json!({"anyOf": [
            {"type": "integer", "minimum": 1, "maximum": keys::MOST_EACH},
            {"type": "object", "additionalProperties": {"anyOf": [
                {"type": "integer", "minimum": 1, "maximum": keys::MOST_EACH},
                {"type": "array"},
            ]}},
        ]}),
        Shape::Steps => json!({"type": ["array", "null"], "items": {"oneOf": steps()}}),
    }
}

fn temperature(from: f64, to: f64) -> Value {
    json!({"anyOf": [
        {"type": "number", "minimum": from, "maximum": to},
        {"type": "string", "pattern": "^-?[0-9.]+ *(°|deg)?[CcFfKk]$"},
    ]})
}

fn alloy() -> Value {
    json!({"anyOf": [
        {"type": ["string", "number"]},
        {"type": "object", "propertyNames": {"pattern": "^[A-Z][a-z]?$"},
         "additionalProperties": {"type": "number", "minimum": 0, "maximum": 100}},
    ]})
}

fn pin() -> Value {
    let reading = temperature(keys::READING.0, keys::READING.1);
    json!({"anyOf": [
        reading,
        {"type": "array", "items": reading, "minItems": 2, "maxItems": 2},
        {"type": "object", "required": ["solidus_c", "liquidus_c"], "additionalProperties": false,
         "properties": {"solidus_c": reading, "liquidus_c": reading}},
    ]})
}

/// One object for each verb, with the keys that it may have.
fn steps() -> Vec<Value> {
    keys::WORK
        .iter()
        .map(|verb| {
            let mut step = object(&keys::of_verb(verb));
            if let Some(Value::Object(properties)) = step.get_mut("properties") {
                properties.insert("do".to_owned(), json!({"const": verb.0}));
            }
            Value::Object(step)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn every_property(value: &Value, found: &mut Vec<(String, Value)>) {
        match value {
            Value::Object(map) => {
                if let Some(Value::Object(properties)) = map.get("properties") {
                    found.extend(properties.iter().map(|(k, v)| (k.clone(), v.clone())));
                }
                map.values().for_each(|v| every_property(v, found));
            }
            Value::Array(items) => items.iter().for_each(|v| every_property(v, found)),
            _ => {}
        }
    }

    #[test]
    fn every_key_has_a_meaning_and_every_number_a_unit() {
        let schema: Value = serde_json::from_str(&schema()).unwrap();
        let mut found = Vec::new();
        every_property(&schema, &mut found);
        assert!(found.len() > 100);
        for (name, value) in found {
            let named_elsewhere =
                ["do", "one_of", "solidus_c", "liquidus_c"].contains(&name.as_str());
            let about = value["description"].as_str().unwrap_or_default();
            assert!(named_elsewhere || !about.is_empty(), "{name}");
            let is_number = value["type"] == "number";
            assert!(!is_number || about.ends_with(')'), "{name}: {about}");
        }
    }
}
