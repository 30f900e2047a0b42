//! The report as JSON text, and the schema of it.

use serde_json::Value;

use super::{Report, ReportError};

/// Longest array of plain values that is kept on one line, characters: our own choice, for the eye.
const ONE_LINE_CHARS: usize = 96;

/// JSON with two spaces a level; arrays of numbers stay on one line.
pub(super) fn write(report: &Report) -> Result<String, ReportError> {
    let failed = |why: serde_json::Error| ReportError::Json {
        file: report.scan.file.clone(),
        why: why.to_string(),
    };
    let value = serde_json::to_value(report).map_err(failed)?;
    let mut text = String::new();
    put(&mut text, &value, 0);
    text.push('\n');
    Ok(text)
}

/// The JSON Schema (draft 2020-12) of a plate report.
///
/// ```
/// assert!(oystermark::report::schema_json().contains("cannot_tell"));
/// ```
pub fn schema_json() -> String {
    let schema = schemars::schema_for!(Report);
    let mut text = String::new();
    put(&mut text, schema.as_value(), 0);
    text.push('\n');
    text
}

fn put(text: &mut String, value: &Value, depth: usize) {
    match value {
        Value::Array(items) if !items.is_empty() => {
            if items.iter().all(is_number) || fits_one_line(value) {
                put_flat(text, value);
                return;
            }
            text.push('[');
            for (i, item) in items.iter().enumerate() {
                text.push_str(if i == 0 { "\n" } else { ",\n" });
                indent(text, depth + 1);
                put(text, item, depth + 1);
            }
            text.push('\n');
            indent(text, depth);
            text.push(']');
        }
        Value::Object(fields) if !fields.is_empty() => {
            text.push('{');
            for (i, (key, item)) in fields.iter().enumerate() {
                text.push_str(if i == 0 { "\n" } else { ",\n" });
                indent(text, depth + 1);
                text.push_str(&Value::from(key.as_str()).to_string());
                text.push_str(": ");
                put(text, item, depth + 1);
            }
            text.push('\n');
            indent(text, depth);
            text.push('}');
        }
        plain => text.push_str(&plain.to_string()),
    }
}

fn put_flat(text: &mut String, value: &Value) {
    let Value::Array(items) = value else {
        text.push_str(&value.to_string());
        return;
    };
    text.push('[');
    for (i, item) in items.iter().enumerate() {
        if i > 0 {
            text.push_str(", ");
        }
        put_flat(text, item);
    }
    text.push(']');
}

fn indent(text: &mut String, depth: usize) {
    for _ in 0..depth {
        text.push_str("  ");
    }
}

fn is_number(value: &Value) -> bool {
    value.is_number() || value.is_null()
}

fn fits_one_line(value: &Value) -> bool {
    fn flat(value: &Value) -> bool {
        match value {
            Value::Array(items) => items.iter().all(flat),
            Value::Object(_) => false,
            _ => true,
        }
    }
    flat(value) && value.to_string().len() <= ONE_LINE_CHARS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stay_on_one_line_and_the_text_reads_back() {
        let value = serde_json::json!({"a": [1.5, null, 2], "b": {"c": ["x"], "d": []}, "e": {}});
        let mut text = String::new();
        put(&mut text, &value, 0);
        assert!(text.contains("\"a\": [1.5, null, 2]"), "{text}");
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), value);
    }
}
