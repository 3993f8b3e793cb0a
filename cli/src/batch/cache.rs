//! Results kept under a content key. The folder may be deleted at any time; a result that cannot be read is worked out again.

use super::Facts;
use crate::failure::Failure;
use std::path::{Path, PathBuf};

/// Where results are kept; `None` keeps nothing.
#[derive(Clone, Debug)]
pub struct Cache(pub Option<PathBuf>);

impl Cache {
    /// The folder of this program below the user's cache folder (XDG Base Directory Specification): nothing is kept when
    /// neither `XDG_CACHE_HOME` nor `HOME` is an absolute path.
    #[must_use]
    pub fn of_the_user() -> Self {
        let absolute = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
        let folder = absolute("XDG_CACHE_HOME").or_else(|| absolute("HOME").map(|home| home.join(".cache")));
        Self(folder.map(|folder| folder.join("cragskin")))
    }

    /// The key of a result: the program's version, and of the model and of the approved one if there is one the hash of the
    /// bytes read and all that they are measured with (comments and order of a job or book do not count).
    #[must_use]
    pub fn key(models: &[(blake3::Hash, &str)]) -> blake3::Hash {
        let mut hasher = blake3::Hasher::new();
        hasher.update(concat!("cragskin batch 9 ", env!("CARGO_PKG_VERSION")).as_bytes());
        for (bytes, measured_with) in models {
            hasher.update(bytes.as_bytes());
            hasher.update(blake3::hash(measured_with.as_bytes()).as_bytes());
        }
        hasher.finalize()
    }

    fn path(folder: &Path, key: blake3::Hash) -> PathBuf {
        // Two letters a folder keep folders small for ten thousand models and more.
        let name = key.to_hex();
        folder.join(&name[..2]).join(format!("{name}.json"))
    }

    /// A result kept earlier.
    #[must_use]
    pub fn find(&self, key: blake3::Hash) -> Option<Facts> {
        let text = std::fs::read(Self::path(self.0.as_ref()?, key)).ok()?;
        serde_json::from_slice(&text).ok()
    }

    /// Keeps a result: it is there whole or not at all.
    ///
    /// # Errors
    /// When the folder cannot be written.
    pub fn keep(&self, key: blake3::Hash, facts: &Facts) -> Result<(), Failure> {
        let Some(folder) = &self.0 else { return Ok(()) };
        let text = serde_json::to_vec(facts)
            .map_err(|error| Failure::new(format!("a result cannot be written as JSON: {error}")))?;
        let path = Self::path(folder, key);
        let aside = path.with_extension(format!("{}.part", std::process::id()));
        // Not forced to the disk: after a power cut a result may be damaged, and is then worked out again.
        let write = || {
            std::fs::create_dir_all(path.parent().unwrap_or(folder))?;
            std::fs::write(&aside, text)?;
            std::fs::rename(&aside, &path)
        };
        write().map_err(|error| {
            // Best effort: the failure itself is what gets told.
            let _ = std::fs::remove_file(&aside);
            Failure::new(format!("{} cannot be written: {error}", crate::load::shown(&path)))
        })
    }
}
