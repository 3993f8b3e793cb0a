//! The layout of the JSON, checked in so that other programs can rely on it: `cli/schema/`.
//!
//! When a report changes, `CRAGSKIN_UPDATE_SCHEMA=1 cargo test -p cragskin --test cli schema` writes the files anew.

use crate::common::Folder;
use cragskin::batch::Row;
use cragskin::report::compare::CompareReport;
use cragskin::report::flag::FlagReport;
use cragskin::report::look::LookReport;
use cragskin::report::takeoff::TakeoffReport;
use cragskin_fixtures::solid::block;
use serde_json::Value;
use std::path::Path;

fn schemas() -> [(&'static str, Value); 5] {
    [
        ("look", schemars::schema_for!(LookReport).to_value()),
        ("takeoff", schemars::schema_for!(TakeoffReport).to_value()),
        ("flag", schemars::schema_for!(FlagReport).to_value()),
        ("compare", schemars::schema_for!(CompareReport).to_value()),
        ("batch", schemars::schema_for!(Row).to_value()),
    ]
}

#[test]
fn the_checked_in_schema_is_that_of_the_types() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("schema");
    for (name, schema) in schemas() {
        let text = format!("{schema:#}\n");
        let path = folder.join(format!("{name}.json"));
        if std::env::var_os("CRAGSKIN_UPDATE_SCHEMA").is_some() {
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(&path, &text).unwrap();
        }
        let kept = std::fs::read_to_string(&path).unwrap_or_default().replace('\r', "");
        assert!(kept == text, "cli/schema/{name}.json is not that of the types; see the first lines of this test file");
    }
}

/// What does not fit, as paths: a type, a required field that is missing, a field that the schema does not know. The few words of
/// JSON Schema that ours uses; a word that is not among them is a fault too, so that nothing passes unread.
fn misfits(root: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    const READ: [&str; 18] = [
        "$ref",
        "$schema",
        "$defs",
        "title",
        "description",
        "type",
        "format",
        "minimum",
        "maximum",
        "properties",
        "required",
        "items",
        "minItems",
        "maxItems",
        "anyOf",
        "const",
        "enum",
        "default",
    ];
    let Some(words) = schema.as_object() else { return };
    found.extend(words.keys().filter(|word| !READ.contains(&word.as_str())).map(|word| format!("{at}: `{word}`?")));
    if let Some(to) = schema["$ref"].as_str() {
        let target = root.pointer(to.trim_start_matches('#')).unwrap_or(&Value::Null);
        assert!(target.is_object(), "{to}");
        return misfits(root, target, value, at, found);
    }
    if let Some(choices) = schema["anyOf"].as_array() {
        let fits = |choice: &Value| {
            let mut inner = Vec::new();
            misfits(root, choice, value, at, &mut inner);
            inner.is_empty()
        };
        if !choices.iter().any(fits) {
            found.push(format!("{at}: none of the choices"));
        }
    }
    let is = |kind: &str| match kind {
        "null" => value.is_null(),
        "number" => value.is_number(),
        "integer" => value.is_i64() || value.is_u64(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    };
    let kinds: Vec<&str> = match &schema["type"] {
        Value::String(kind) => vec![kind],
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    };
    if !kinds.is_empty() && !kinds.iter().any(|kind| is(kind)) {
        found.push(format!("{at}: {value} is no {kinds:?}"));
    }
    if let (Some(fields), Some(known)) = (value.as_object(), schema["properties"].as_object()) {
        for name in schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
            if !fields.contains_key(name) {
                found.push(format!("{at}: no {name}"));
            }
        }
        for (name, field) in fields {
            match known.get(name) {
                Some(schema) => misfits(root, schema, field, &format!("{at}.{name}"), found),
                None => found.push(format!("{at}.{name}: unknown")),
            }
        }
    }
    if let Some(list) = value.as_array() {
        let count = |word: &str| schema[word].as_u64();
        let n = list.len() as u64;
        if count("minItems").is_some_and(|least| n < least) || count("maxItems").is_some_and(|most| n > most) {
            found.push(format!("{at}: {n} items"));
        }
        list.iter()
            .enumerate()
            .for_each(|(k, item)| misfits(root, &schema["items"], item, &format!("{at}.{k}"), found));
    }
}

#[test]
fn real_output_fits_the_schema() {
    let open = block(12.0, 3.0, 8.0).delete(|i, _| i == 0);
    let at = Folder::new().with("wall.obj", block(12.0, 3.0, 8.0).to_obj()).with("open.obj", open.to_obj());
    let takeoff = ["--units", "ft", "--floor", "bare", "--limit", "bags > 900", "--json"];
    let mut ran = 0;
    for (command, file, flags) in [
        ("look", "wall.obj", &["--json"][..]),
        ("look", "open.obj", &["--units", "ft", "--control", "x = 12 ft", "--json"]),
        ("takeoff", "wall.obj", &takeoff),
        ("takeoff", "open.obj", &takeoff),
        ("compare", "wall.obj", &["open.obj", "--units", "ft", "--limit", "area change > 90 %", "--json"]),
    ] {
        let json = at.json(&[&[command, file], flags].concat());
        let schema = schemas().into_iter().find(|(name, _)| *name == command).unwrap().1;
        let mut found = Vec::new();
        misfits(&schema, &schema, &json, command, &mut found);
        assert!(found.is_empty(), "{found:#?}");
        // The check itself must be able to fail.
        let mut less = json.clone();
        less.as_object_mut().unwrap().remove("schema");
        less[if command == "compare" { "words" } else { "units" }] = 7.into();
        misfits(&schema, &schema, &less, command, &mut found);
        assert_eq!(found.len(), 2, "{found:#?}");
        ran += 1;
    }
    assert_eq!(ran, 5);
}

/// A row with figures, one that passed a limit, one compared, one that failed.
#[test]
fn rows_of_a_batch_fit_the_schema() {
    let wall = block(12.0, 3.0, 8.0);
    let at = Folder::new().with("wall.obj", wall.to_obj()).with("bad.stl", Vec::new());
    let [.., (_, schema)] = schemas();
    let words = ["batch", "wall.obj", "bad.stl", "--units", "ft", "--jsonl", "--no-store", "--limit", "bags > 1"];
    let mut rows = 0;
    for more in [&[][..], &["--baseline", "wall.obj"]] {
        for line in at.run(&[&words[..], more].concat()).out.lines() {
            let mut row: Value = serde_json::from_str(line).unwrap();
            let mut found = Vec::new();
            misfits(&schema, &schema, &row, "row", &mut found);
            assert!(found.is_empty(), "{found:#?}");
            row.as_object_mut().unwrap().remove("state");
            row["number"] = "one".into();
            misfits(&schema, &schema, &row, "row", &mut found);
            assert_eq!(found.len(), 2, "{found:#?}");
            rows += 1;
        }
    }
    assert_eq!(rows, 4);
}
