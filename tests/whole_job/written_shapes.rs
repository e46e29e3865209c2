//! The field lists of answers, read from where they are written down for whoever reads them with a program.
//!
//! ```text
//! list    = { name shape }
//! shape   = "{" field { "," field } "}" | "[" shape "]" | NAME | NAME "+" field { "+" field }
//! field   = quoted { "|" quoted } [ ":" shape ]        one of the quoted names is there; without a shape a plain value
//! NAME    = a capital letter, itself a name of the list
//! ```

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde_json::Value;

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Shape {
    /// A string, a number, true or false, or null.
    Plain,
    /// Fields: the names that one may have, of which there is exactly one, and its shape.
    Object(Vec<(Vec<String>, Shape)>),
    /// Any number of elements.
    List(Box<Shape>),
}

/// The section of DEVELOPERS.md that tells what other programs read.
pub(super) fn section() -> String {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md")).unwrap();
    let section = text.split("## What other programs read\n").nth(1).expect("the section is there");
    section.split("\n## ").next().unwrap().to_owned()
}

/// All shapes written down in it, by name.
pub(crate) fn written() -> BTreeMap<String, Shape> {
    let section = section();
    let block = section.split("```text\n").nth(1).and_then(|rest| rest.split("```").next()).expect("a fenced list");
    read(block)
}

fn read(block: &str) -> BTreeMap<String, Shape> {
    let mut reader = Reader { tokens: tokens(block), at: 0, known: BTreeMap::new() };
    while let Some(name) = reader.peek().map(str::to_owned) {
        reader.at += 1;
        let shape = reader.shape();
        assert!(reader.known.insert(name.clone(), shape).is_none(), "{name} is written down twice");
    }
    reader.known
}

/// Quoted names (with their first quote), words and signs.
fn tokens(block: &str) -> Vec<String> {
    let mut tokens = Vec::new();
    let mut rest = block.trim_start();
    while let Some(first) = rest.chars().next() {
        let length = match first {
            '"' => 1 + rest[1..].find('"').expect("a closing quote"),
            letter if letter.is_alphanumeric() => rest.find(|c: char| !c.is_alphanumeric()).unwrap_or(rest.len()),
            _ => first.len_utf8(),
        };
        tokens.push(rest[..length].to_owned());
        rest = rest[length + usize::from(first == '"')..].trim_start();
    }
    tokens
}

struct Reader {
    tokens: Vec<String>,
    at: usize,
    known: BTreeMap<String, Shape>,
}

impl Reader {
    fn peek(&self) -> Option<&str> {
        self.tokens.get(self.at).map(String::as_str)
    }

    /// Goes past a sign if it is next.
    fn passes(&mut self, sign: &str) -> bool {
        let there = self.peek() == Some(sign);
        self.at += usize::from(there);
        there
    }

    fn shape(&mut self) -> Shape {
        if self.passes("[") {
            let element = self.shape();
            assert!(self.passes("]"), "a list ends with ], not {:?}", self.peek());
            return Shape::List(Box::new(element));
        }
        if self.passes("{") {
            let mut fields = vec![self.field()];
            while self.passes(",") {
                fields.push(self.field());
            }
            assert!(self.passes("}"), "fields end with }}, not {:?} after {fields:?}", self.peek());
            return Shape::Object(fields);
        }
        let name = self.peek().expect("a shape").to_owned();
        let mut shape = self.known.get(&name).unwrap_or_else(|| panic!("'{name}' is no shape")).clone();
        self.at += 1;
        while self.passes("+") {
            let field = self.field();
            let Shape::Object(fields) = &mut shape else { panic!("{name} has no fields to add to") };
            fields.push(field);
        }
        shape
    }

    fn field(&mut self) -> (Vec<String>, Shape) {
        let mut names = Vec::new();
        loop {
            let name =
                self.peek().and_then(|token| token.strip_prefix('"')).unwrap_or_else(|| panic!("no name: {:?}", self.peek()));
            names.push(name.to_owned());
            self.at += 1;
            if !self.passes("|") {
                break;
            }
        }
        let shape = if self.passes(":") { self.shape() } else { Shape::Plain };
        (names, shape)
    }
}

impl Shape {
    /// Holds an answer to this shape: the fields there and no others, in any order. Adds to `seen` each list that had an element
    /// and each plain value that was not null, as paths.
    pub(crate) fn holds(&self, answer: &Value, path: &str, seen: &mut BTreeSet<String>) {
        match self {
            Self::Plain => {
                assert!(!answer.is_object() && !answer.is_array(), "{path} is to be a plain value: {answer}");
                if !answer.is_null() {
                    seen.insert(path.to_owned());
                }
            }
            Self::List(element) => {
                let list = answer.as_array().unwrap_or_else(|| panic!("{path} is to be a list: {answer}"));
                for one in list {
                    seen.insert(format!("{path}[]"));
                    element.holds(one, &format!("{path}[]"), seen);
                }
            }
            Self::Object(fields) => {
                let object = answer.as_object().unwrap_or_else(|| panic!("{path} is to have fields: {answer}"));
                let mut expected = BTreeSet::new();
                for (names, shape) in fields {
                    let there: Vec<&String> = names.iter().filter(|name| object.contains_key(*name)).collect();
                    assert_eq!(there.len(), 1, "{path}: exactly one of {names:?} is to be there: {answer}");
                    expected.insert(there[0].clone());
                    shape.holds(&object[there[0]], &format!("{path}.{}", there[0]), seen);
                }
                let found: BTreeSet<String> = object.keys().cloned().collect();
                assert_eq!(found, expected, "the fields of {path}");
            }
        }
    }

    /// Paths of every plain value and list of the shape; of alternatives the first.
    pub(super) fn paths(&self, path: &str) -> BTreeSet<String> {
        match self {
            Self::Plain => BTreeSet::from([path.to_owned()]),
            Self::List(element) => {
                let mut paths = element.paths(&format!("{path}[]"));
                paths.insert(format!("{path}[]"));
                paths
            }
            Self::Object(fields) => fields.iter().flat_map(|(names, shape)| shape.paths(&format!("{path}.{}", names[0]))).collect(),
        }
    }
}

#[test]
fn the_notation_is_read_as_meant() {
    let shapes = read("R {\"p10\",\"p90\"}\nanswer {\"a\",\n  \"b\"|\"c\", \"0.05\": R + \"chance\",\"d\":[{\"e\",\"f\":[R]}]}");
    let mut seen = BTreeSet::new();
    let answer = |text: &str| -> Value { serde_json::from_str(text).unwrap() };
    let good = r#"{"a":1,"c":null,"0.05":{"p10":1,"p90":2,"chance":0.5},"d":[{"e":"x","f":[{"p10":1,"p90":null}]}]}"#;
    shapes["answer"].holds(&answer(good), "answer", &mut seen);
    assert!(seen.contains("answer.d[].f[].p10") && !seen.contains("answer.d[].f[].p90"), "{seen:?}");
    assert!(shapes["answer"].paths("answer").contains("answer.0.05.chance"));
    for bad in [
        good.replace("\"a\":1,", ""),
        good.replace("\"a\":1", "\"a\":1,\"more\":2"),
        good.replace("\"a\":1", "\"a\":[]"),
        good.replace(",\"chance\":0.5", ""),
        good.replace("\"c\":null", "\"b\":1,\"c\":null"),
        good.replace("\"p10\":1,\"p90\":null", "\"p10\":1"),
    ] {
        let held = std::panic::catch_unwind(|| shapes["answer"].holds(&answer(&bad), "answer", &mut BTreeSet::new()));
        assert!(held.is_err(), "passed: {bad}");
    }
}
