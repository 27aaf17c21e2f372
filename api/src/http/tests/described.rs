//! The API document: the one that is checked in, and complete.

use serde_json::Value;

use super::super::{document, document_text};

#[test]
fn the_document_is_the_one_checked_in() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi/loopwright.json");
    if std::env::var_os("LOOPWRIGHT_BLESS").is_some() {
        std::fs::write(&path, document_text()).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == document_text(),
        "openapi/loopwright.json is not the document of these routes; refresh it with: \
         LOOPWRIGHT_BLESS=1 cargo test -p loopwright-api the_document_is_the_one_checked_in"
    );
}

/// Names of the types below a folder that derive `ToSchema`.
fn described(folder: &std::path::Path, names: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            described(&path, names);
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            let mut derived = false;
            for line in text.lines() {
                derived |= line.starts_with("#[derive(") && line.contains("ToSchema");
                let mut words = line.split_whitespace().skip_while(|w| *w != "struct" && *w != "enum").skip(1);
                if let Some(name) =
                    words.next().filter(|_| derived && !line.starts_with('#') && !line.starts_with("//"))
                {
                    names.push(name.trim_end_matches(|c: char| !c.is_alphanumeric()).to_owned());
                    derived = false;
                }
            }
        }
    }
}

/// The API document knows types by their bare names, and of two with one name it keeps one without a word.
#[test]
fn no_two_described_types_share_a_name() {
    let mut names = Vec::new();
    described(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut names);
    names.sort();
    assert!(names.len() > 100, "{}", names.len());
    let twice: Vec<&[String]> = names.windows(2).filter(|w| w[0] == w[1]).collect();
    assert!(twice.is_empty(), "{twice:?}");
}

/// Numbers of a schema that have no least value or no description, by their place.
fn unbounded(schema: &Value, at: &str, seen: &mut usize) -> Vec<String> {
    let number = |t: &Value| t == "number" || t == "integer";
    let is_number = number(&schema["type"]) || schema["type"].as_array().is_some_and(|types| types.iter().any(number));
    let bounded = schema.get("minimum").or(schema.get("exclusiveMinimum")).is_some();
    let mut found = Vec::new();
    if is_number {
        *seen += 1;
        if !bounded {
            found.push(at.to_owned());
        }
    }
    for (key, below) in schema["properties"].as_object().into_iter().flatten() {
        let place = format!("{at}.{key}");
        // What refers to a schema is described there; a tag has one value, which says it all.
        let elsewhere = below.to_string().contains("$ref") || below["enum"].as_array().is_some_and(|e| e.len() == 1);
        if !elsewhere && below["description"].as_str().is_none_or(str::is_empty) {
            found.push(format!("{place} (description)"));
        }
        found.extend(unbounded(below, &place, seen));
    }
    found.extend(schema.get("items").into_iter().flat_map(|below| unbounded(below, at, seen)));
    for key in ["allOf", "oneOf", "anyOf"] {
        found.extend(schema[key].as_array().into_iter().flatten().flat_map(|below| unbounded(below, at, seen)));
    }
    found
}

#[test]
fn every_field_is_described_and_every_number_bounded() {
    let document = serde_json::to_value(document()).unwrap();
    let mut seen = 0;
    let schemas = document["components"]["schemas"].as_object().unwrap();
    let found: Vec<String> = schemas.iter().flat_map(|(name, schema)| unbounded(schema, name, &mut seen)).collect();
    assert_eq!(found, Vec::<String>::new());
    assert!(seen > 100, "{seen}");
}

#[test]
fn every_operation_is_described_and_says_its_errors() {
    let document = serde_json::to_value(document()).unwrap();
    assert!(document["openapi"].as_str().unwrap().starts_with("3.1"));
    let mut seen = 0;
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let at = format!("{method} {path}");
            for key in ["summary", "description", "operationId"] {
                assert!(operation[key].as_str().is_some_and(|s| !s.is_empty()), "{at} has no {key}");
            }
            for status in ["400", "401", "408", "413", "415", "429", "500", "503"] {
                let content = &operation["responses"][status]["content"]["application/problem+json"];
                assert!(content.is_object(), "{at} does not describe {status}");
            }
            if operation["requestBody"].is_object() {
                assert!(operation["requestBody"]["content"]["application/json"]["example"].is_object(), "{at}");
            }
            seen += 1;
        }
    }
    assert_eq!(seen, 35);
}
