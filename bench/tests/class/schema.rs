//! As much of JSON Schema (draft 2020-12) as our schemas use, and stricter in one thing: members that a schema does not tell
//! of are told.

use serde_json::Value;

/// What is not as `cli/schemas/marking-results.json` says.
pub fn differences(document: &Value) -> Vec<String> {
    let schema: Value =
        serde_json::from_str(include_str!("../../../cli/schemas/marking-results.json")).unwrap();
    let mut found = Vec::new();
    check(document, &schema, &schema, "", &mut found);
    found
}

fn check(value: &Value, schema: &Value, root: &Value, place: &str, found: &mut Vec<String>) {
    let mut tell = |what: &str| found.push(format!("{place}: {what}: {value}"));
    for (keyword, rule) in schema.as_object().unwrap() {
        let fits = match keyword.as_str() {
            "const" => value == rule,
            "enum" => rule.as_array().unwrap().contains(value),
            "type" => match rule {
                Value::String(kind) => is_a(value, kind),
                kinds => kinds.as_array().unwrap().iter().any(|kind| is_a(value, kind.as_str().unwrap())),
            },
            "minimum" => value.as_f64().is_none_or(|number| number >= rule.as_f64().unwrap()),
            "maximum" => value.as_f64().is_none_or(|number| number <= rule.as_f64().unwrap()),
            "minItems" => value.as_array().unwrap().len() as u64 >= rule.as_u64().unwrap(),
            "maxItems" => value.as_array().unwrap().len() as u64 <= rule.as_u64().unwrap(),
            "required" => {
                rule.as_array().unwrap().iter().all(|name| value.get(name.as_str().unwrap()).is_some())
            }
            "oneOf" => {
                let fitting = rule.as_array().unwrap().iter().filter(|one| {
                    let mut differences = Vec::new();
                    check(value, one, root, place, &mut differences);
                    differences.is_empty()
                });
                fitting.count() == 1
            }
            "$schema" | "$defs" | "title" | "description" | "$ref" | "properties" | "items" => true,
            other => panic!("{other} is not known here"),
        };
        if !fits {
            tell(keyword);
        }
    }
    if let Some(reference) = schema.get("$ref") {
        let target = root.pointer(reference.as_str().unwrap().trim_start_matches('#')).unwrap();
        check(value, target, root, place, found);
    }
    if let (Some(properties), Some(members)) = (schema.get("properties"), value.as_object()) {
        for (name, member) in members {
            match properties.get(name) {
                Some(rule) => check(member, rule, root, &format!("{place}/{name}"), found),
                None => found.push(format!("{place}/{name} is not in the schema")),
            }
        }
    }
    if let (Some(rule), Some(entries)) = (schema.get("items"), value.as_array()) {
        for (index, entry) in entries.iter().enumerate() {
            check(entry, rule, root, &format!("{place}/{index}"), found);
        }
    }
}

fn is_a(value: &Value, kind: &str) -> bool {
    match kind {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        "number" => value.is_number(),
        "integer" => value.is_i64() || value.is_u64(),
        other => panic!("{other} is no kind"),
    }
}
