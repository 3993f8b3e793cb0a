//! How much work an answer may take.

use std::sync::atomic::{AtomicU64, Ordering};

/// Steps of work that may be spent on an answer, a step being one to three nanoseconds of one core. Steps are counted, not timed:
/// whether they suffice is the same on every machine and for any number of threads.
#[derive(Debug)]
pub struct Effort {
    most: u64,
    spent: AtomicU64,
}

impl Effort {
    /// As much as it takes.
    #[must_use]
    pub const fn any() -> Self {
        Self::of(u64::MAX)
    }

    /// So many steps.
    #[must_use]
    pub const fn of(steps: u64) -> Self {
        Self { most: steps, spent: AtomicU64::new(0) }
    }

    /// Whether it was not enough: what was found with it is not whole.
    #[must_use]
    pub fn is_spent(&self) -> bool {
        self.spent() > self.most
    }

    /// Counts steps.
    pub(crate) fn spend(&self, steps: u64) {
        self.spent.fetch_add(steps, Ordering::Relaxed);
    }

    pub(crate) fn spent(&self) -> u64 {
        self.spent.load(Ordering::Relaxed)
    }
}
