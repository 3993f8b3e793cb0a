//! Many models against the same book and limits: which, in what order, within what memory, and what was already done.
//!
//! `paths -> inputs -> (bytes -> key -> kept facts or takeoff) -> facts and book -> rows in input order`. What is measured
//! depends on the file's bytes, the job, a part of the book and the program alone, so it can be kept under their hash; see
//! [`Facts`] for which part.

mod facts;
mod inputs;
mod row;
mod run;

pub use facts::{Facts, measured_with};
pub use inputs::{Input, collect};
pub use row::{Row, Summary, beyond, table, text};
pub use run::{Baseline, Event, Plan, run};

use crate::settings::ValueError;
use std::str::FromStr;

/// A part of a list, counted from 1: `2/8`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shard {
    /// Which part, 1 to `parts`.
    pub part: usize,
    /// How many parts.
    pub parts: usize,
}

impl Shard {
    /// The whole list.
    pub const WHOLE: Self = Self { part: 1, parts: 1 };

    /// Whether a place in the list, from 0, belongs to this part. Neighbours go to different parts, so that a folder of
    /// large models is shared out.
    #[must_use]
    pub const fn holds(&self, index: usize) -> bool {
        index % self.parts == self.part - 1
    }
}

impl FromStr for Shard {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let numbers = text.split_once('/').and_then(|(a, b)| Some((a.trim().parse().ok()?, b.trim().parse().ok()?)));
        match numbers {
            Some((part, parts)) if (1..=parts).contains(&part) => Ok(Self { part, parts }),
            _ => Err(ValueError(format!("`{text}` is no part of a list; write for example `2/8`, from 1/8 to 8/8"))),
        }
    }
}

/// An amount of memory in bytes: `4 GiB`, `800 MiB`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Memory(pub u64);

impl FromStr for Memory {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
        let (number, unit) = text.split_at(end);
        let factor = match unit.trim() {
            "KiB" => Some(1u64 << 10),
            "MiB" => Some(1 << 20),
            "GiB" => Some(1 << 30),
            _ => None,
        };
        match (number.parse::<f64>(), factor) {
            (Ok(number), Some(factor)) if number > 0.0 => Ok(Self((number * factor as f64) as u64)),
            _ => Err(ValueError(format!("`{text}` is no amount of memory; write for example `4 GiB` or `800 MiB`"))),
        }
    }
}

impl Memory {
    /// Half of what the system says is free; 2 GiB where it does not say.
    #[must_use]
    pub fn half_of_free() -> Self {
        let told = std::fs::read_to_string("/proc/meminfo").ok();
        let line = told.as_deref().and_then(|text| text.lines().find(|line| line.starts_with("MemAvailable:")));
        let kib = line.and_then(|line| line.split_whitespace().nth(1)).and_then(|n| n.parse::<u64>().ok());
        Self(kib.map_or(2 << 30, |kib| kib * 1024 / 2))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_of_a_list() {
        assert_eq!("2/8".parse(), Ok(Shard { part: 2, parts: 8 }));
        for text in ["0/8", "9/8", "1/0", "2", "a/b", "-1/2"] {
            assert!(text.parse::<Shard>().is_err(), "{text}");
        }
        let shards: Vec<Shard> = (1..=3).map(|part| Shard { part, parts: 3 }).collect();
        assert!((0..20).all(|index| shards.iter().filter(|shard| shard.holds(index)).count() == 1));
    }

    #[test]
    fn amounts_of_memory() {
        assert_eq!("1.5 GiB".parse(), Ok(Memory(3 << 29)));
        assert_eq!("800MiB".parse(), Ok(Memory(800 << 20)));
        for text in ["", "4", "4 GB", "-1 GiB", "0 MiB", "x GiB"] {
            assert!(text.parse::<Memory>().is_err(), "{text}");
        }
    }
}
