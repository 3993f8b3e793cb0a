//! What was measured, kept under a key of all that it was measured from.
//!
//! An entry is a file `KIND/KEY`, the key in hexadecimal digits. The key is a hash of every value that the stage is worked out from, and of
//! the program itself: another build, another model or another rule has another key, so nothing that was kept is ever out of date. Entries
//! are written aside and renamed, and begin with a hash of kind, key and the rest: what was damaged, or copied to the place of another, is
//! measured again. The folder may be deleted at any time, and so may any part of it.

use crate::failure::Failure;
use crate::load::shown;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::ffi::OsStr;
use std::fmt::Debug;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::time::{Duration, SystemTime};

/// Bytes kept, about: above it those are removed that were not used for the longest time, down to three quarters of it. The entries of the
/// demo (100,000 triangles) take 19 MB, nearly all of it zones.
const MOST_BYTES: u64 = 2 << 30;

/// It is looked how many bytes are kept when a run begins to keep, and each time that it has kept so many more.
const LOOK_AGAIN: u64 = MOST_BYTES / 8;

/// A larger entry is not kept: it would push out too many others. The zones of some 1,400,000 triangles.
const MOST_AN_ENTRY: usize = 256 << 20;

/// What a killed run has left half-written is removed when it is as old as this.
const LEFT_BEHIND: Duration = Duration::from_secs(3600);

/// Where results are kept; nowhere by default.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Store {
    folder: Option<PathBuf>,
}

/// What is kept; each kind in a folder of its own, so that one key does for several.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The row of a batch.
    Row,
    /// Volume and areas of the skin.
    Skin,
    /// Zones.
    Zones,
    /// Places without foam, as a takeoff finds them.
    Places,
    /// The same as `core` finds them, with the core's mesh at hand.
    CorePlaces,
    /// The mesh of the core.
    Core,
}

impl Kind {
    const ALL: [Self; 6] = [Self::Row, Self::Skin, Self::Zones, Self::Places, Self::CorePlaces, Self::Core];

    const fn folder(self) -> &'static str {
        match self {
            Self::Row => "batch",
            Self::Skin => "skin",
            Self::Zones => "zones",
            Self::Places => "places",
            Self::CorePlaces => "core-places",
            Self::Core => "core",
        }
    }
}

/// What a result was worked out from.
///
/// ```
/// use cragskin::store::Key;
/// let of = |thickness: f64| Key::new().with(&[1.0, 2.0]).and(&thickness).name();
/// assert_eq!(of(0.019), of(0.019));
/// assert_ne!(of(0.019), of(0.0190000001));
/// ```
#[derive(Clone, Debug)]
pub struct Key(blake3::Hasher);

impl Key {
    /// Worked out by this program, from nothing yet.
    #[must_use]
    #[expect(clippy::new_without_default, reason = "a key of nothing is no value to stand in for another")]
    pub fn new() -> Self {
        let mut hasher = blake3::Hasher::new();
        hasher.update(program().map_or(&[][..], |program| program.as_bytes()));
        Self(hasher)
    }

    /// And from this value.
    ///
    /// # Panics
    /// If a value has no length known in advance: no type that is kept does.
    #[must_use]
    pub fn with(mut self, value: &impl Serialize) -> Self {
        // Many small writes are slow.
        let mut buffered = io::BufWriter::new(&mut self.0);
        let written = postcard::to_io(value, &mut buffered).map(|_| ());
        assert!(written.is_ok() && buffered.flush().is_ok(), "{written:?}");
        drop(buffered);
        self
    }

    /// And from rules, by what `Debug` prints of them: every field, floating-point numbers to the last digit.
    #[must_use]
    pub fn and(self, rules: &impl Debug) -> Self {
        self.with(&format!("{rules:?}"))
    }

    /// The name of the entry.
    #[must_use]
    pub fn name(&self) -> String {
        self.0.finalize().to_hex().to_string()
    }
}

impl Store {
    /// In a folder; none keeps nothing. So does one whose program cannot tell which build it is.
    #[must_use]
    pub fn new(folder: Option<PathBuf>) -> Self {
        Self { folder: folder.filter(|_| program().is_some()) }
    }

    /// The folder of this program below the user's cache folder (XDG Base Directory Specification): nothing is kept when
    /// neither `XDG_CACHE_HOME` nor `HOME` is an absolute path.
    #[must_use]
    pub fn of_the_user() -> Self {
        let absolute = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
        let folder = absolute("XDG_CACHE_HOME").or_else(|| absolute("HOME").map(|home| home.join(".cache")));
        Self::new(folder.map(|folder| folder.join("cragskin")))
    }

    /// Anything is kept.
    #[must_use]
    pub const fn keeps(&self) -> bool {
        self.folder.is_some()
    }

    /// What was kept under a key, else what `work` gives, which is kept. `key` is not asked for where nothing is kept. Where it cannot be
    /// kept it is measured again the next time.
    pub fn kept<T: Serialize + DeserializeOwned>(
        &self,
        kind: Kind,
        key: impl FnOnce() -> Key,
        work: impl FnOnce() -> T,
    ) -> T {
        if !self.keeps() {
            return work();
        }
        let key = key();
        self.find(kind, &key).unwrap_or_else(|| {
            let value = work();
            let _ = self.keep(kind, &key, &value);
            value
        })
    }

    /// What was kept under a key.
    #[must_use]
    pub fn find<T: DeserializeOwned>(&self, kind: Kind, key: &Key) -> Option<T> {
        let path = self.path(kind, key)?;
        // Opening a pipe would wait for a writer, and what is larger than any entry is none.
        let is_entry = |data: &std::fs::Metadata| data.is_file() && data.len() <= MOST_AN_ENTRY as u64;
        std::fs::metadata(&path).ok().filter(is_entry)?;
        let mut bytes = Vec::new();
        let mut file = std::fs::File::open(&path).ok()?;
        file.read_to_end(&mut bytes).ok()?;
        let (sum, value) = bytes.split_at_checked(blake3::OUT_LEN)?;
        if seal(kind, key, value).as_bytes() != sum {
            return None;
        }
        // Used now, so it goes last. Where that cannot be noted it goes earlier.
        let _ = file.set_modified(SystemTime::now());
        postcard::from_bytes(value).ok()
    }

    /// Keeps a result: it is there whole or not at all. One that is too large is not kept.
    ///
    /// # Errors
    /// When the folder cannot be written.
    pub fn keep(&self, kind: Kind, key: &Key, value: &impl Serialize) -> Result<(), Failure> {
        static PART: AtomicU64 = AtomicU64::new(0);
        // Since it was last looked how many are kept.
        static WRITTEN: AtomicU64 = AtomicU64::new(LOOK_AGAIN);
        let (Some(folder), Some(path)) = (&self.folder, self.path(kind, key)) else { return Ok(()) };
        let mut bytes = Bounded { bytes: vec![0; blake3::OUT_LEN], most: MOST_AN_ENTRY };
        if postcard::to_io(value, &mut bytes).is_err() {
            return Ok(());
        }
        let mut bytes = bytes.bytes;
        let sum = seal(kind, key, &bytes[blake3::OUT_LEN..]);
        bytes[..blake3::OUT_LEN].copy_from_slice(sum.as_bytes());
        let part = PART.fetch_add(1, Relaxed);
        let aside = path.with_extension(format!("{}-{part}.part", std::process::id()));
        // Not forced to the disk: after a power cut a result may be damaged, and is then worked out again.
        let write = || {
            std::fs::create_dir_all(path.parent().unwrap_or(folder))?;
            std::fs::write(&aside, &bytes)?;
            std::fs::rename(&aside, &path)
        };
        write().map_err(|error| {
            // Best effort: the failure itself is what gets told.
            let _ = std::fs::remove_file(&aside);
            Failure::new(format!("{} cannot be written: {error}", shown(&path)))
        })?;
        let written = bytes.len() as u64;
        if WRITTEN.fetch_add(written, Relaxed) + written >= LOOK_AGAIN {
            WRITTEN.store(0, Relaxed);
            trim(folder, MOST_BYTES);
        }
        Ok(())
    }

    fn path(&self, kind: Kind, key: &Key) -> Option<PathBuf> {
        let name = key.name();
        // Two letters a folder keep folders small for ten thousand models and more.
        Some(self.folder.as_ref()?.join(kind.folder()).join(&name[..2]).join(&name[2..]))
    }
}

/// Bytes up to a number of them.
struct Bounded {
    bytes: Vec<u8>,
    most: usize,
}

impl Write for Bounded {
    fn write(&mut self, more: &[u8]) -> io::Result<usize> {
        if self.bytes.len() + more.len() > self.most {
            return Err(io::ErrorKind::FileTooLarge.into());
        }
        self.bytes.extend_from_slice(more);
        Ok(more.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// What tells this build of the program from others: version, place, length and time of its file. Hashing the file would take longer than
/// finding what was kept.
fn program() -> Option<&'static blake3::Hash> {
    static PROGRAM: OnceLock<Option<blake3::Hash>> = OnceLock::new();
    let hash = || {
        let path = std::env::current_exe().ok()?;
        let facts = std::fs::metadata(&path).ok()?;
        let told = (env!("CARGO_PKG_VERSION"), &path, facts.len(), facts.modified().ok()?);
        Some(blake3::hash(format!("{told:?}").as_bytes()))
    };
    PROGRAM.get_or_init(hash).as_ref()
}

/// Removes the entries that were not used for the longest time where there are more bytes than `most`, and what killed runs have left.
/// Another process may do the same, and what it has removed is no fault.
fn trim(folder: &Path, most: u64) {
    let now = SystemTime::now();
    let mut entries: Vec<(SystemTime, u64, PathBuf)> = Vec::new();
    let kinds = Kind::ALL.iter().map(|kind| folder.join(kind.folder()));
    for path in kinds.flat_map(within).flat_map(within) {
        let facts = std::fs::symlink_metadata(&path).ok().filter(std::fs::Metadata::is_file);
        let facts = facts.and_then(|facts| Some((facts.modified().ok()?, facts.len())));
        let Some((modified, bytes)) = facts.filter(|_| is_ours(&path)) else { continue };
        let is_part = path.extension().is_some();
        if is_part && now.duration_since(modified).is_ok_and(|age| age > LEFT_BEHIND) {
            let _ = std::fs::remove_file(&path);
        } else if !is_part {
            entries.push((modified, bytes, path));
        }
    }
    let mut bytes: u64 = entries.iter().map(|entry| entry.1).sum();
    if bytes <= most {
        return;
    }
    entries.sort();
    for (_, size, path) in entries {
        if bytes <= most / 4 * 3 {
            break;
        }
        if std::fs::remove_file(path).is_ok() {
            bytes -= size;
        }
    }
}

/// The name of an entry, or of one half-written: what else lies in a folder that somebody has named for a store is never removed.
fn is_ours(path: &Path) -> bool {
    let is_hash = |part: Option<&OsStr>, digits: usize| {
        let part = part.and_then(OsStr::to_str);
        part.is_some_and(|part| part.len() == digits && part.bytes().all(|c| c.is_ascii_hexdigit()))
    };
    // A part has its process before the ending.
    let stem = path.file_stem().map(Path::new);
    let name = match path.extension() {
        Some(end) if end == "part" => stem.and_then(Path::file_stem),
        Some(_) => None,
        None => path.file_name(),
    };
    is_hash(name, 2 * blake3::OUT_LEN - 2) && is_hash(path.parent().and_then(Path::file_name), 2)
}

/// What an entry begins with.
fn seal(kind: Kind, key: &Key, value: &[u8]) -> blake3::Hash {
    let mut hasher = blake3::Hasher::new();
    hasher.update(kind.folder().as_bytes()).update(key.0.finalize().as_bytes()).update(value);
    hasher.finalize()
}

fn within(folder: PathBuf) -> impl Iterator<Item = PathBuf> {
    std::fs::read_dir(folder).into_iter().flatten().filter_map(|entry| Some(entry.ok()?.path()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten entries of 100 bytes, the first the oldest: above 900 bytes the oldest go until 675 are left.
    #[test]
    fn what_was_not_used_for_the_longest_time_goes_first() {
        let folder = std::env::temp_dir().join(format!("cragskin-trim-{}", std::process::id()));
        let now = SystemTime::now();
        let write = |name: &str, hours: u64| {
            let path = folder.join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, [0; 100]).unwrap();
            let file = std::fs::File::options().write(true).open(&path).unwrap();
            file.set_modified(now - Duration::from_secs(3600 * hours)).unwrap();
        };
        let name = |end: &str| format!("skin/ab/{end:a>62}");
        let entry = |k: u64| name(&k.to_string());
        (0..10).for_each(|k| write(&entry(k), 20 - k));
        let [new, old] = ["1-0.part", "2-0.part"].map(|end| format!("{}.{end}", name("f")));
        write(&new, 0);
        write(&old, 2);
        // What somebody may have in a folder that he names for a store.
        let others = ["notes", "skin/notes", "skin/ab/notes", "skin/ab/old.part", "papers/ab/notes", "skin/2024/notes"];
        let others = others
            .map(str::to_owned)
            .into_iter()
            .chain([entry(7).replace("skin", "papers"), name("txt").replace("txt", ".txt")]);
        let others: Vec<String> = others.collect();
        others.iter().for_each(|name| write(name, 90));
        let left = |name: &str| folder.join(name).exists();
        trim(&folder, 1000);
        assert!((0..10).all(|k| left(&entry(k))), "as many bytes as may be");
        assert!(left(&new) && !left(&old), "what a killed run left");
        trim(&folder, 900);
        let kept: Vec<u64> = (0..10).filter(|k| left(&entry(*k))).collect();
        assert_eq!(kept, [4, 5, 6, 7, 8, 9]);
        for name in others {
            assert!(left(&name), "{name} is not the store's");
        }
        std::fs::remove_dir_all(&folder).unwrap();
    }

    /// What is found is what was kept, and nothing where a byte has changed. What is too large is not kept.
    #[test]
    fn a_damaged_entry_is_none() {
        let folder = std::env::temp_dir().join(format!("cragskin-entry-{}", std::process::id()));
        let (store, key) = (Store::new(Some(folder.clone())), Key::new().and(&"rule"));
        let value = vec![0.1, f64::INFINITY, -0.0];
        store.keep(Kind::Skin, &key, &value).unwrap();
        assert_eq!(store.find::<Vec<f64>>(Kind::Skin, &key), Some(value));
        assert_eq!(store.find::<Vec<f64>>(Kind::Zones, &key), None);
        store.keep(Kind::Core, &key, &vec![1.0; MOST_AN_ENTRY / 8]).unwrap();
        assert_eq!(store.find::<Vec<f64>>(Kind::Core, &key), None);
        let path = store.path(Kind::Skin, &key).unwrap();
        let mut bytes = std::fs::read(&path).unwrap();
        for k in 0..bytes.len() {
            bytes[k] ^= 0x10;
            std::fs::write(&path, &bytes).unwrap();
            assert_eq!(store.find::<Vec<f64>>(Kind::Skin, &key), None, "byte {k}");
            bytes[k] ^= 0x10;
        }
        // A whole entry in the place of another.
        std::fs::write(&path, &bytes).unwrap();
        assert!(store.find::<Vec<f64>>(Kind::Skin, &key).is_some());
        let other = key.clone().and(&"another rule");
        for (kind, key) in [(Kind::Skin, &other), (Kind::Zones, &other)] {
            let path = store.path(kind, key).unwrap();
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, &bytes).unwrap();
            assert_eq!(store.find::<Vec<f64>>(kind, key), None, "{kind:?}");
        }
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
