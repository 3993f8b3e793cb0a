//! Asking a TOML text for its keys.

use std::{fmt::Display, ops::Range, str::FromStr};

use toml::de::{DeTable, DeValue};

use super::{Fault, Faults};

struct Entry<'a> {
    key: String,
    key_span: Range<usize>,
    value: &'a DeValue<'a>,
    span: Range<usize>,
    asked: bool,
}

/// A value and its place in the text.
pub type Placed<T> = (T, Range<usize>);

/// Keys of one file by dotted name. Each key that is asked for counts as known; the rest are faults.
pub struct Reader<'a> {
    entries: Vec<Entry<'a>>,
    faults: Vec<Fault>,
    /// Every key that was asked for: what the file may hold.
    known: Vec<String>,
    kind: &'static str,
    /// Where a missing key is missed: the heading of the table, or the start of the file.
    home: Range<usize>,
}

/// Reads a TOML text and hands its keys to `read`; `kind` names the file in messages ("material book").
///
/// # Errors
/// All faults found, by line: TOML that cannot be read, values refused, keys that nobody asked for.
pub(crate) fn parse<T>(
    text: &str,
    file: &str,
    kind: &'static str,
    read: impl FnOnce(&mut Reader<'_>) -> T,
) -> Result<T, Faults> {
    let faults = |list| Faults { file: file.to_string(), text: text.to_string(), list };
    let table = match DeTable::parse(text) {
        Ok(table) => table,
        Err(e) => {
            let span = e.span().unwrap_or(0..0);
            let message = format!("this is not TOML: {}", e.message().lines().next().unwrap_or_default());
            return Err(faults(vec![Fault { span, message, hint: None }]));
        }
    };
    let mut reader = Reader { entries: Vec::new(), faults: Vec::new(), known: Vec::new(), kind, home: 0..0 };
    flatten(table.get_ref(), "", &mut reader.entries);
    let value = read(&mut reader);
    let list = reader.finish();
    if list.is_empty() { Ok(value) } else { Err(faults(list)) }
}

fn flatten<'a>(table: &'a DeTable<'a>, prefix: &str, out: &mut Vec<Entry<'a>>) {
    for (key, value) in table {
        let dotted = format!("{prefix}{}", key.get_ref());
        match value.get_ref() {
            DeValue::Table(inner) if !inner.is_empty() => flatten(inner, &format!("{dotted}."), out),
            inner => {
                out.push(Entry { key: dotted, key_span: key.span(), value: inner, span: value.span(), asked: false });
            }
        }
    }
}

/// The text of a string or a bare number, whose reader will say that the unit is missing.
fn written<'v>(value: &'v DeValue<'_>) -> Result<&'v str, String> {
    match value {
        DeValue::String(text) => Ok(text),
        DeValue::Integer(number) => Ok(number.as_str()),
        DeValue::Float(number) => Ok(number.as_str()),
        other => Err(format!("a {} stands here where a text in quotes is wanted", other.type_str())),
    }
}

impl<'a> Reader<'a> {
    fn find(&mut self, key: &str) -> Option<(&'a DeValue<'a>, Range<usize>)> {
        self.known.push(key.to_string());
        let entry = self.entries.iter_mut().find(|e| e.key == key)?;
        entry.asked = true;
        Some((entry.value, entry.span.clone()))
    }

    /// Notes a fault at `span`.
    pub fn fault(&mut self, span: Range<usize>, message: impl Into<String>) {
        self.faults.push(Fault { span, message: message.into(), hint: None });
    }

    /// The value of a key and its place, if the key is there and can be read.
    pub fn get<T: FromStr<Err: Display>>(&mut self, key: &str) -> Option<Placed<T>> {
        let (value, span) = self.find(key)?;
        match written(value).and_then(|text| text.parse().map_err(|e: T::Err| e.to_string())) {
            Ok(value) => Some((value, span)),
            Err(message) => {
                self.fault(span, format!("{key}: {message}"));
                None
            }
        }
    }

    /// A value that must be there.
    pub fn require<T: FromStr<Err: Display>>(&mut self, key: &str) -> Option<T> {
        let there = self.entries.iter().any(|e| e.key == key);
        let value = self.get(key).map(|(value, _)| value);
        if !there {
            let home = self.home.clone();
            self.fault(home, format!("`{key}` is missing"));
        }
        value
    }

    /// The texts of a list, each with its place.
    pub fn list<T: FromStr<Err: Display>>(&mut self, key: &str) -> Option<Placed<Vec<Placed<T>>>> {
        let (value, span) = self.find(key)?;
        let DeValue::Array(items) = value else {
            self.fault(span, format!("{key}: a list in square brackets is wanted"));
            return None;
        };
        let mut out = Vec::new();
        for item in items {
            match written(item.get_ref()).and_then(|text| text.parse().map_err(|e: T::Err| e.to_string())) {
                Ok(value) => out.push((value, item.span())),
                Err(message) => self.fault(item.span(), format!("{key}: {message}")),
            }
        }
        Some((out, span))
    }

    /// One reader run for each table of a list of tables (`[[scope.plane]]`). Inner keys are named `scope.plane.at`.
    pub fn tables<T>(&mut self, key: &str, mut read: impl FnMut(&mut Reader<'a>, Range<usize>) -> Option<T>) -> Vec<T> {
        let Some((value, span)) = self.find(key) else { return Vec::new() };
        let DeValue::Array(items) = value else {
            self.fault(span, format!("{key}: write a list of tables, each headed [[{key}]]"));
            return Vec::new();
        };
        let mut out = Vec::new();
        for item in items {
            let DeValue::Table(table) = item.get_ref() else {
                self.fault(item.span(), format!("{key}: write a list of tables, each headed [[{key}]]"));
                continue;
            };
            let mut inner = Reader {
                entries: Vec::new(),
                faults: Vec::new(),
                known: Vec::new(),
                kind: self.kind,
                home: item.span(),
            };
            flatten(table, &format!("{key}."), &mut inner.entries);
            out.extend(read(&mut inner, item.span()));
            self.faults.extend(inner.finish());
        }
        out
    }

    fn finish(mut self) -> Vec<Fault> {
        // An empty table that could hold keys is a heading with nothing under it.
        let heading = |e: &Entry| {
            matches!(e.value, DeValue::Table(_)) && self.known.iter().any(|k| k.starts_with(&format!("{}.", e.key)))
        };
        for entry in self.entries.iter().filter(|e| !e.asked && !heading(e)) {
            let hint = nearest(&entry.key, &self.known).map(|key| format!("did you mean `{key}`?"));
            let message = format!("`{}` is not a key of the {}", entry.key, self.kind);
            self.faults.push(Fault { span: entry.key_span.clone(), message, hint });
        }
        self.faults.sort_by_key(|f| f.span.start);
        self.faults
    }
}

/// The known key that a misspelt one most likely stands for: the same last word elsewhere, or few letters off.
pub(crate) fn nearest<'k>(key: &str, known: &'k [String]) -> Option<&'k str> {
    let last = |k: &str| k.rsplit('.').next().unwrap_or_default().to_string();
    let score = |k: &str| {
        let whole = strsim::normalized_damerau_levenshtein(key, k);
        let word = strsim::normalized_damerau_levenshtein(&last(key), &last(k));
        whole.max(0.9 * word)
    };
    let best = known.iter().max_by(|a, b| score(a).total_cmp(&score(b)).then_with(|| b.cmp(a)))?;
    (score(best) >= 0.6).then_some(best)
}
