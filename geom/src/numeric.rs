//! Sums that do not depend on order, and filing by number: no mesh is known here.

use rayon::prelude::*;
use std::ops::AddAssign;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};

/// A sum in fixed point, 128 bits wide.
///
/// Integer addition is associative, so any order of the terms and any number of threads give the same bits. The step is
/// 2^-80 of the largest term announced; with 2^46 such terms there is still no overflow.
///
/// ```
/// use cragskin_geom::numeric::FixedSum;
/// let mut sum = FixedSum::with_terms_up_to(1.0);
/// (0..10).for_each(|_| sum.add(0.1));
/// assert_eq!(sum.value(), 1.0); // ten f64 additions give 0.9999999999999999
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FixedSum {
    exponent: i32,
    total: i128,
}

/// Bits kept below the largest term.
const DEPTH: i32 = 80;

impl FixedSum {
    /// An empty sum whose terms are at most `largest` in size (zero, or not finite, counts as one).
    #[must_use]
    pub fn with_terms_up_to(largest: f64) -> Self {
        let largest = if largest.is_finite() && largest > 0.0 { largest } else { 1.0 };
        // `exponent` may be anything in range of f64; the power is applied in two halves so that neither overflows.
        let exponent = DEPTH - largest.log2().ceil() as i32;
        Self { exponent, total: 0 }
    }

    /// Adds a term. A term that is not a number adds nothing; one beyond all bounds leaves the sum at its end stop.
    pub fn add(&mut self, term: f64) {
        let half = self.exponent / 2;
        let steps = term * exp2(half) * exp2(self.exponent - half);
        // Nearly all terms fit the machine's own word, which is converted by one instruction.
        let whole = if steps.abs() < 9e18 { i128::from(steps as i64) } else { steps as i128 };
        self.total = self.total.saturating_add(whole);
    }

    /// The sum, rounded once.
    #[must_use]
    pub fn value(&self) -> f64 {
        let half = self.exponent / 2;
        self.total as f64 * exp2(-half) * exp2(half - self.exponent)
    }
}

impl AddAssign for FixedSum {
    fn add_assign(&mut self, other: Self) {
        assert_eq!(self.exponent, other.exponent, "sums of different scale");
        self.total = self.total.saturating_add(other.total);
    }
}

/// 2^k exactly, for k in the range of normal f64 numbers.
fn exp2(k: i32) -> f64 {
    f64::from_bits(((1023 + i64::from(k.clamp(-1022, 1023))) as u64) << 52)
}

/// Items filed under numbers by a counting sort, in any order under one number.
pub(crate) struct Filed {
    starts: Vec<u32>,
    items: Vec<AtomicU32>,
}

impl Filed {
    /// `each` must call its argument with `(number, item)` for the same pairs both times that it is called.
    ///
    /// Slots are claimed by counting, so every item is written once; the atomics keep this free of unsafe code.
    pub(crate) fn new(numbers: usize, each: impl Fn(&(dyn Fn(u32, u32) + Sync))) -> Self {
        let next: Vec<AtomicU32> = (0..numbers).map(|_| AtomicU32::new(0)).collect();
        each(&|number, _| {
            next[number as usize].fetch_add(1, Relaxed);
        });
        let mut total = 0;
        let mut starts = Vec::with_capacity(numbers + 1);
        for count in &next {
            starts.push(total);
            total += count.swap(total, Relaxed);
        }
        starts.push(total);
        let items: Vec<AtomicU32> = (0..total).into_par_iter().map(|_| AtomicU32::new(0)).collect();
        each(&|number, item| items[next[number as usize].fetch_add(1, Relaxed) as usize].store(item, Relaxed));
        Self { starts, items }
    }

    pub(crate) fn under(&self, number: usize) -> impl Iterator<Item = u32> + '_ {
        let range = self.starts[number] as usize..self.starts[number + 1] as usize;
        self.items[range].iter().map(|item| item.load(Relaxed))
    }
}

/// The finalizer of S. Vigna's SplitMix64.
pub(crate) fn scramble(k: u64) -> u64 {
    let z = k.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ z >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ z >> 31
}

/// [`scramble`] as a number from 0 to 1.
pub(crate) fn unit(seed: u64) -> f64 {
    (scramble(seed) >> 11) as f64 * (0.5f64).powi(53)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn order_does_not_matter_and_small_terms_are_kept() {
        let terms: Vec<f64> = (1..2000).map(|k| f64::from(k).sqrt() * if k % 3 == 0 { -1e-9 } else { 1.0 }).collect();
        let add = |it: &mut dyn Iterator<Item = &f64>| {
            let mut s = FixedSum::with_terms_up_to(45.0);
            it.for_each(|t| s.add(*t));
            s.value().to_bits()
        };
        assert_eq!(add(&mut terms.iter()), add(&mut terms.iter().rev()));
        let mut s = FixedSum::with_terms_up_to(1e6);
        s.add(1e6);
        s.add(1e-6);
        s.add(-1e6);
        // The step is 1e6 * 2^-80, about 8e-19.
        assert!((s.value() - 1e-6).abs() < 1e-17);
    }

    /// The sequence of Steele, Lea and Flood 2014 started at 1234567 begins with this number (the test vector of S. Vigna's
    /// splitmix64.c).
    #[test]
    fn scramble_is_splitmix() {
        assert_eq!(scramble(1_234_567), 6_457_827_717_110_365_317);
    }

    #[test]
    fn scale_may_be_extreme() {
        for big in [1e-30, 1.0, 1e30] {
            let mut s = FixedSum::with_terms_up_to(big);
            s.add(big);
            s.add(big);
            assert_eq!(s.value(), 2.0 * big);
        }
    }
}
