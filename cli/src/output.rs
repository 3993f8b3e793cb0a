//! Where bytes leave the program: standard output that may close early, and files that are whole or not there.

use crate::claims::Claims;
use crate::failure::Failure;
use crate::load::shown;
use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes to standard output. A reader that has closed the pipe has all it wants: that is no error.
///
/// # Errors
/// When standard output cannot be written for another reason.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::new(format!("standard output cannot be written: {error}")))
        }
        _ => Ok(()),
    }
}

/// Says what was written, a path a line.
///
/// # Errors
/// As [`print()`].
pub fn told(written: &[PathBuf]) -> Result<(), Failure> {
    print(&written.iter().map(|path| format!("{}\n", shown(path))).collect::<String>())
}

/// A line a folder: its files, or how many they are.
#[must_use]
pub fn by_folder(paths: &[PathBuf]) -> Vec<String> {
    const NAMED: usize = 16;
    let mut folders: BTreeMap<&Path, Vec<String>> = BTreeMap::new();
    for path in paths {
        let name = path.file_name().map_or_else(String::new, |name| shown(Path::new(name)));
        folders.entry(path.parent().unwrap_or(Path::new(""))).or_default().push(name);
    }
    let told = |(folder, names): (&Path, Vec<String>)| match names.len() {
        0..=NAMED => format!("{}: {}", shown(folder), names.join(", ")),
        n => format!("{}: {n} files", shown(folder)),
    };
    folders.into_iter().map(told).collect()
}

/// Files to be written together: all of them appear, or none.
#[derive(Debug, Default)]
pub struct Files {
    files: Vec<(PathBuf, Vec<u8>)>,
    reads: Claims,
    expected: Vec<PathBuf>,
}

impl Files {
    /// Files of a run that reads `inputs`, which none of them may replace.
    #[must_use]
    pub fn beside(inputs: &[PathBuf]) -> Self {
        Self { reads: Claims::reading(inputs.iter().cloned()), ..Self::default() }
    }

    /// Says what will be written, so that a bad place is refused before anything is measured.
    ///
    /// # Errors
    /// As [`Claims::write`].
    pub fn expect(&mut self, outputs: impl IntoIterator<Item = PathBuf>) -> Result<(), Failure> {
        self.expected.extend(outputs);
        self.check(self.expected.iter())
    }

    fn check<'a>(&self, mut outputs: impl Iterator<Item = &'a PathBuf>) -> Result<(), Failure> {
        let mut claims = self.reads.clone();
        outputs.try_for_each(|path| claims.write(path))
    }

    /// Adds a file.
    pub fn add(&mut self, path: impl Into<PathBuf>, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.into(), bytes.into()));
    }

    /// Writes each under a temporary name beside its place, then renames all.
    ///
    /// # Errors
    /// When a folder or file cannot be written. Nothing that was written stays, but for renames already done when a later
    /// rename fails, which needs somebody to change the folder at that very moment.
    pub fn write(self) -> Result<Vec<PathBuf>, Failure> {
        // Asked again: a link may have been made while the model was measured.
        self.check(self.files.iter().map(|(path, _)| path))?;
        debug_assert!(
            self.files.iter().all(|(path, _)| self.expected.contains(path)),
            "each place is checked in advance"
        );
        let mut waiting: Vec<(PathBuf, PathBuf)> = Vec::new();
        let done = self.write_aside(&mut waiting).and_then(|()| {
            waiting
                .iter()
                .try_for_each(|(aside, path)| fs::rename(aside, path).map_err(|error| cannot_write(path, &error)))
        });
        if let Err(failure) = done {
            for (aside, _) in &waiting {
                // Best effort: the failure itself is what gets told.
                let _ = fs::remove_file(aside);
            }
            return Err(failure);
        }
        Ok(waiting.into_iter().map(|(_, path)| path).collect())
    }

    fn write_aside(self, waiting: &mut Vec<(PathBuf, PathBuf)>) -> Result<(), Failure> {
        for (path, bytes) in self.files {
            if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
                fs::create_dir_all(folder).map_err(|error| cannot_write(folder, &error))?;
            }
            let mut name = path.file_name().unwrap_or_default().to_os_string();
            name.push(format!(".{}.part", std::process::id()));
            let aside = path.with_file_name(name);
            waiting.push((aside.clone(), path));
            let write = || -> io::Result<()> {
                let mut file = fs::File::create(&aside)?;
                file.write_all(&bytes)?;
                file.sync_all()
            };
            write().map_err(|error| cannot_write(&aside, &error))?;
        }
        Ok(())
    }
}

fn cannot_write(path: &Path, error: &io::Error) -> Failure {
    Failure::new(format!("{} cannot be written: {error}", shown(path)))
        .hint("give another folder with --out, or make room; nothing was left half-written")
}
