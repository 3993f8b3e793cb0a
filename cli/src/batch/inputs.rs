//! Paths, folders and lists to models, in a fixed order.

use crate::failure::Failure;
use cragskin_geom::intake::FileKind;
use std::collections::BTreeSet;
use std::io::Read;
use std::path::{Path, PathBuf};

/// One row to be: a model or job file, or a reason why there is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Input {
    /// As given, or as found below a folder given.
    pub path: PathBuf,
    /// Why it cannot be looked at, if so.
    pub fault: Option<String>,
}

/// Files as given, folders searched (names in byte order, links followed once, STL and OBJ only), `-` for a list.
///
/// # Errors
/// When standard input cannot be read as UTF-8 text.
pub fn collect(paths: &[PathBuf]) -> Result<Vec<Input>, Failure> {
    let mut inputs = Vec::new();
    let mut seen = BTreeSet::new();
    for path in paths {
        if path.as_os_str() == "-" {
            let mut text = String::new();
            std::io::stdin()
                .lock()
                .read_to_string(&mut text)
                .map_err(|error| Failure::new(format!("the list on standard input cannot be read: {error}")))?;
            for line in text.lines().map(str::trim_end).filter(|line| !line.is_empty()) {
                add(Path::new(line), &mut inputs, &mut seen);
            }
        } else {
            add(path, &mut inputs, &mut seen);
        }
    }
    Ok(inputs)
}

fn add(path: &Path, inputs: &mut Vec<Input>, seen: &mut BTreeSet<PathBuf>) {
    if path.is_dir() {
        walk(path, inputs, seen);
    } else {
        inputs.push(Input { path: path.to_owned(), fault: None });
    }
}

/// A folder met again, by a loop of links or a second path, is not searched again.
fn walk(folder: &Path, inputs: &mut Vec<Input>, seen: &mut BTreeSet<PathBuf>) {
    let fault = |error: std::io::Error| Input {
        path: folder.to_owned(),
        fault: Some(format!("the folder cannot be read: {error}")),
    };
    match folder.canonicalize().map(|real| seen.insert(real)) {
        Ok(true) => {}
        Ok(false) => return,
        Err(error) => return inputs.push(fault(error)),
    }
    let entries = std::fs::read_dir(folder).and_then(|entries| entries.map(|entry| Ok(entry?.path())).collect());
    let mut entries: Vec<PathBuf> = match entries {
        Ok(entries) => entries,
        Err(error) => return inputs.push(fault(error)),
    };
    entries.sort();
    for path in entries {
        // A link that leads nowhere is neither a folder nor a file: its name decides.
        if path.is_dir() {
            walk(&path, inputs, seen);
        } else if path.extension().and_then(|end| end.to_str()).and_then(FileKind::from_extension).is_some() {
            // A pipe or a device of such a name would be read for ever.
            let odd = std::fs::metadata(&path).is_ok_and(|facts| !facts.is_file());
            inputs.push(Input { path, fault: odd.then(|| "this is no file".to_owned()) });
        }
    }
}
