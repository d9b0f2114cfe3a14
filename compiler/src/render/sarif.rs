//! Diagnostics in the Static Analysis Results Interchange Format (SARIF) 2.1.0, an OASIS standard.
//!
//! Names of properties and their nesting are from memory of that standard: 3.13 sarifLog, 3.14 run, 3.19
//! toolComponent, 3.27 result, 3.30 region, 3.49 reportingDescriptor, 3.55 fix.

use std::collections::BTreeMap;

use latchwork_grammar::{Diagnostic, FileId, Fix, Label, Severity, Sources, Span};
use serde_json::{Map, Value, json};

use super::{LISTED_MAX, in_source_order, json::pretty, lines::Files, spans};
use crate::explain::explain;

/// Diagnostics as a SARIF 2.1.0 log with one run, a rule for each name that occurs, and fixes.
///
/// At most [`LISTED_MAX`] are listed; the property `omitted` of the run, there only when it is not 0, says how many
/// are not.
pub fn sarif(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    let files = Files::new(sources, spans(diagnostics));
    let rules: BTreeMap<&str, usize> = {
        let mut names: Vec<&str> = diagnostics.iter().map(|diagnostic| diagnostic.name).collect();
        names.sort_unstable();
        names.dedup();
        names.into_iter().enumerate().map(|(index, name)| (name, index)).collect()
    };
    let results: Vec<Value> = in_source_order(diagnostics)
        .into_iter()
        .take(LISTED_MAX)
        .map(|diagnostic| result(diagnostic, rules.get(diagnostic.name).copied().unwrap_or(0), &files))
        .collect();
    let mut run = json!({
        "tool": { "driver": {
            "name": "Latchwork",
            "semanticVersion": env!("CARGO_PKG_VERSION"),
            "rules": rules.keys().map(|name| rule(name)).collect::<Vec<_>>(),
        } },
        "columnKind": "unicodeCodePoints",
        "results": results,
    });
    let omitted = diagnostics.len().saturating_sub(LISTED_MAX);
    if let (Some(run), 1..) = (run.as_object_mut(), omitted) {
        run.insert("properties".into(), json!({ "omitted": omitted }));
    }
    pretty(&json!({
        "$schema": "https://json.schemastore.org/sarif-2.1.0.json",
        "version": "2.1.0",
        "runs": [run],
    }))
}

fn rule(name: &str) -> Value {
    let mut rule = Map::new();
    rule.insert("id".into(), name.into());
    if let Some(explanation) = explain(name) {
        rule.insert("shortDescription".into(), json!({ "text": explanation.summary() }));
        rule.insert("help".into(), json!({ "text": explanation.text, "markdown": explanation.text }));
    }
    rule.into()
}

fn result(diagnostic: &Diagnostic, rule: usize, files: &Files<'_>) -> Value {
    let mut message = diagnostic.message.clone();
    for text in std::iter::once(&diagnostic.primary.text).chain(&diagnostic.notes) {
        if !text.is_empty() {
            message.push('\n');
            message.push_str(text);
        }
    }
    let mut result = Map::new();
    result.insert("ruleId".into(), diagnostic.name.into());
    result.insert("ruleIndex".into(), rule.into());
    let level = match diagnostic.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    };
    result.insert("level".into(), level.into());
    result.insert("message".into(), json!({ "text": message }));
    if let Some(location) = location(diagnostic.primary.span, files) {
        result.insert("locations".into(), json!([location]));
    }
    let related: Vec<Value> = diagnostic.secondary.iter().filter_map(|label| related(label, files)).collect();
    if !related.is_empty() {
        result.insert("relatedLocations".into(), related.into());
    }
    if let Some(fix) = &diagnostic.fix {
        result.insert("fixes".into(), json!([repair(fix, files)]));
    }
    result.into()
}

fn location(span: Span, files: &Files<'_>) -> Option<Value> {
    let (name, _, _) = files.place(span)?;
    Some(json!({ "physicalLocation": {
        "artifactLocation": { "uri": uri(name) },
        "region": region(span, files)?,
    } }))
}

fn related(label: &Label, files: &Files<'_>) -> Option<Value> {
    let mut location = location(label.span, files)?;
    if !label.text.is_empty() {
        location.as_object_mut()?.insert("message".into(), json!({ "text": label.text }));
    }
    Some(location)
}

fn region(span: Span, files: &Files<'_>) -> Option<Value> {
    let (_, start, end) = files.place(span)?;
    Some(json!({
        "startLine": start.line,
        "startColumn": start.column,
        "endLine": end.line,
        "endColumn": end.column,
    }))
}

fn repair(fix: &Fix, files: &Files<'_>) -> Value {
    let mut by_file: BTreeMap<FileId, Vec<Value>> = BTreeMap::new();
    for edit in &fix.edits {
        if let Some(region) = region(edit.span, files) {
            by_file
                .entry(edit.span.file)
                .or_default()
                .push(json!({ "deletedRegion": region, "insertedContent": { "text": edit.text } }));
        }
    }
    let changes: Vec<Value> = by_file
        .into_iter()
        .filter_map(|(file, replacements)| {
            let name = &files.get(file)?.source.name;
            Some(json!({ "artifactLocation": { "uri": uri(name) }, "replacements": replacements }))
        })
        .collect();
    json!({ "description": { "text": fix.message }, "artifactChanges": changes })
}

/// A file name as a relative or absolute URI reference (RFC 3986): every byte that is not allowed in a path is
/// written as `%XX`; a colon too, or a first segment with one would read as a scheme.
fn uri(name: &str) -> String {
    let mut uri = String::with_capacity(name.len());
    for byte in name.bytes() {
        match byte {
            b'\\' if cfg!(windows) => uri.push('/'),
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                uri.push(char::from(byte))
            }
            _ => uri.push_str(&format!("%{byte:02X}")),
        }
    }
    uri
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_become_uri_references() {
        assert_eq!(uri("samples/pump 1.st"), "samples/pump%201.st");
        assert_eq!(uri("a:b#c?ü"), "a%3Ab%23c%3F%C3%BC");
    }
}
