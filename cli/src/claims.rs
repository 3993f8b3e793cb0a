//! Where a run will write, checked against what it reads before anything is measured.

use crate::failure::Failure;
use crate::load::shown;
use std::fs;
use std::path::{Component, Path, PathBuf};

/// Files that a run reads and files that it will write. No output may replace an input or another output.
#[derive(Clone, Debug, Default)]
pub struct Claims {
    inputs: Vec<Place>,
    outputs: Vec<Place>,
}

/// A path with its links resolved as far as it exists.
#[derive(Clone, Debug)]
struct Place {
    real: PathBuf,
    file: Option<FileId>,
}

/// Device and number of a file: equal for hard links and for every spelling of one path.
type FileId = (u64, u64);

impl Claims {
    /// Claims of a run that reads these files.
    #[must_use]
    pub fn reading(inputs: impl IntoIterator<Item = PathBuf>) -> Self {
        Self { inputs: inputs.into_iter().map(|path| Place::of(&path)).collect(), outputs: Vec::new() }
    }

    /// Claims a place to write.
    ///
    /// # Errors
    /// When it is an input, another output, a folder, or lies below something that is no folder.
    pub fn write(&mut self, path: &Path) -> Result<(), Failure> {
        let place = Place::of(path);
        let refused = |why: &str, hint: &str| Err(Failure::new(format!("{} {why}", shown(path))).hint(hint));
        if self.inputs.iter().any(|input| input.is(&place)) {
            return refused(
                "is read by this run, and the output would replace it; nothing was written",
                "give the output another name or another folder",
            );
        }
        let within = |a: &Place, b: &Place| a.real.starts_with(&b.real);
        if self.outputs.iter().any(|output| within(output, &place) || within(&place, output)) {
            return refused(
                "would be written twice by this run; nothing was written",
                "give every output a name of its own",
            );
        }
        let hint = "give another path; nothing was written";
        if path.is_dir() {
            return refused("cannot be written: it is a folder", hint);
        }
        if let Some(above) = path.ancestors().skip(1).find(|above| above.exists())
            && !above.is_dir()
        {
            return refused(&format!("cannot be written: {} is no folder", shown(above)), hint);
        }
        self.outputs.push(place);
        Ok(())
    }
}

impl Place {
    fn of(path: &Path) -> Self {
        Self { real: resolved(path), file: file_id(path) }
    }

    fn is(&self, other: &Self) -> bool {
        self.real == other.real || self.file.is_some() && self.file == other.file
    }
}

/// The path without links and dots: the part that exists as the system resolves it, the rest as written.
fn resolved(path: &Path) -> PathBuf {
    let Some(name) = path.file_name() else {
        return fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let above = fs::canonicalize(folder).unwrap_or_else(|_| match folder.components().next_back() {
        // A folder still to be made: one step back leads out of it again.
        Some(Component::ParentDir) => {
            let inner = resolved(folder.parent().unwrap_or(Path::new("")));
            inner.parent().map_or_else(|| inner.clone(), Path::to_owned)
        }
        _ => resolved(folder),
    });
    above.join(name)
}

#[cfg(unix)]
fn file_id(path: &Path) -> Option<FileId> {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(path).ok().map(|facts| (facts.dev(), facts.ino()))
}

#[cfg(not(unix))]
fn file_id(path: &Path) -> Option<FileId> {
    let _ = path;
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_one_place_however_it_is_written() {
        let here = fs::canonicalize(".").unwrap();
        for path in ["new/x.txt", "./new/x.txt", "new/./x.txt", "new/deep/../x.txt", "src/../new/x.txt"] {
            assert_eq!(resolved(Path::new(path)), here.join("new/x.txt"), "{path}");
        }
    }

    #[test]
    fn an_output_neither_replaces_an_input_nor_another_output() {
        let mut claims = Claims::reading([PathBuf::from("Cargo.toml")]);
        assert!(claims.write(Path::new("./src/../Cargo.toml")).is_err());
        assert!(claims.write(Path::new("src")).is_err(), "a folder");
        assert!(claims.write(Path::new("Cargo.toml/x")).is_err(), "below a file");
        assert_eq!(claims.write(Path::new("new.html")), Ok(()));
        assert!(claims.write(Path::new("./new.html")).is_err());
        assert!(claims.write(Path::new("new.html/front.png")).is_err(), "below an output");
        assert_eq!(claims.write(Path::new("other.html")), Ok(()));
    }
}
