//! A sum that is worked out exactly and printed so that the printed numbers give the printed result.

use std::ops::{Add, Div, Mul, Sub};

use super::whole_packages;

/// An expression over numbers with units.
#[derive(Clone, Debug, PartialEq)]
pub enum Expr {
    /// A measured number; printed with as few figures as the result allows.
    Num(f64, &'static str),
    /// A number of the book or a constant; printed in full.
    Fixed(f64, &'static str),
    /// A number of the book: value, unit, key. Printed as `Fixed` is.
    Book(f64, &'static str, &'static str),
    /// The result of an earlier step of the same sum.
    Step(usize, &'static str),
    /// Two expressions and the operator between them.
    Pair(Box<Expr>, char, Box<Expr>),
}

macro_rules! operator {
    ($($trait:ident $method:ident $sign:literal;)+) => { $(
        impl $trait for Expr {
            type Output = Self;
            fn $method(self, other: Self) -> Self {
                Self::Pair(Box::new(self), $sign, Box::new(other))
            }
        }
    )+ };
}
operator! { Add add '+'; Sub sub '-'; Mul mul 'x'; Div div '/'; }

/// A measured number.
#[must_use]
pub const fn num(value: f64, unit: &'static str) -> Expr {
    Expr::Num(value, unit)
}

/// A constant, or a number that follows from others.
#[must_use]
pub const fn fixed(value: f64, unit: &'static str) -> Expr {
    Expr::Fixed(value, unit)
}

/// A number of the book with its key, so that a workbook can offer it for change.
#[must_use]
pub const fn book(value: f64, unit: &'static str, key: &'static str) -> Expr {
    Expr::Book(value, unit, key)
}

/// The result of step `n`, counted from 0.
#[must_use]
pub const fn step(n: usize, unit: &'static str) -> Expr {
    Expr::Step(n, unit)
}

/// Steps that build on one another; the last one's result is the sum's.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sum {
    steps: Vec<(&'static str, Expr, &'static str)>,
    note: String,
}

/// Figures shown of a fixed number: enough for any book value, few enough to hide binary noise.
const FIXED_FIGURES: usize = 6;

/// Written in so few figures: not a conversion such as 9.1799 lb for 1.1 gal, which is cut as a measured number is.
fn is_short(value: f64) -> bool {
    (rounded(value, FIXED_FIGURES).1 - value).abs() <= 1e-12 * value.abs()
}

/// `value` to so many significant figures without trailing zeros, and what that text says.
fn rounded(value: f64, figures: usize) -> (String, f64) {
    if value == 0.0 || !value.is_finite() {
        return (value.to_string(), value);
    }
    #[expect(clippy::cast_possible_truncation, reason = "a decimal exponent is small")]
    let exponent = value.abs().log10().floor() as i64;
    let decimals = usize::try_from(i64::try_from(figures).unwrap_or(17) - 1 - exponent).unwrap_or(0);
    let mut text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    let back = text.parse().unwrap_or(value);
    (text, back)
}

impl Expr {
    /// Text and value with numbers cut to `figures`; uncut without.
    fn work(&self, results: &[f64], figures: Option<usize>) -> (String, f64) {
        let number = |value: f64, least: usize, unit: &str| {
            let (text, value) = figures.map_or((String::new(), value), |n| rounded(value, n.max(least)));
            (if unit.is_empty() { text } else { format!("{text} {unit}") }, value)
        };
        match self {
            Self::Num(value, unit) => number(*value, 0, unit),
            Self::Fixed(value, unit) | Self::Book(value, unit, _) => {
                number(*value, if is_short(*value) { FIXED_FIGURES } else { 0 }, unit)
            }
            Self::Step(n, unit) => number(results[*n], 0, unit),
            Self::Pair(left, sign, right) => {
                let ((a, x), (b, y)) = (left.work(results, figures), right.work(results, figures));
                let value = match sign {
                    '+' => x + y,
                    '-' => x - y,
                    'x' => x * y,
                    _ => x / y,
                };
                (format!("{} {sign} {}", left.bracketed(*sign, a, false), right.bracketed(*sign, b, true)), value)
            }
        }
    }

    fn bracketed(&self, outer: char, text: String, right: bool) -> String {
        let Self::Pair(_, inner, _) = self else { return text };
        let loose = |c: char| matches!(c, '+' | '-');
        let needed = match (outer, right) {
            ('+', _) | ('-', false) => false,
            ('-', true) | ('x' | '/', false) => loose(*inner),
            _ => true,
        };
        if needed { format!("({text})") } else { text }
    }
}

impl Sum {
    /// One step: `label expression = result unit`. Earlier results are named by [`step`].
    #[must_use]
    pub fn then(mut self, label: &'static str, expr: Expr, unit: &'static str) -> Self {
        self.steps.push((label, expr, unit));
        self
    }

    /// The expressions of all steps.
    pub fn expressions(&self) -> impl Iterator<Item = &Expr> {
        self.steps.iter().map(|(_, expr, _)| expr)
    }

    /// Words after the result, in brackets.
    #[must_use]
    pub fn note(mut self, note: impl Into<String>) -> Self {
        self.note = note.into();
        self
    }

    /// The result, unrounded.
    #[must_use]
    pub fn exact(&self) -> f64 {
        let mut results = Vec::new();
        for (_, expr, _) in &self.steps {
            results.push(expr.work(&results, None).1);
        }
        results.last().copied().unwrap_or(0.0)
    }

    /// The sum in one line, the result with at least `decimals`.
    ///
    /// Figures are added until the printed numbers give the printed result, and decimals until rounding the printed
    /// result up gives the packages ordered.
    #[must_use]
    pub fn print(&self, decimals: usize, packed: bool) -> String {
        let exact = self.exact();
        let order = whole_packages(exact);
        let mut line = String::new();
        for decimals in decimals..decimals + 12 {
            let wanted = format!("{exact:.decimals$}");
            if packed && wanted.parse().is_ok_and(|shown: f64| whole_packages(shown) != order) {
                continue;
            }
            for figures in 4..=17 {
                let (text, result) = self.written(figures, decimals);
                line = text;
                if result == wanted {
                    if packed {
                        line.push_str(&format!("; order {order}"));
                    }
                    return line;
                }
            }
        }
        line
    }

    fn written(&self, figures: usize, decimals: usize) -> (String, String) {
        let (mut results, mut parts, mut last) = (Vec::new(), Vec::new(), String::new());
        for (n, (label, expr, unit)) in self.steps.iter().enumerate() {
            let (text, value) = expr.work(&results, Some(figures));
            let (shown, kept) = if n + 1 == self.steps.len() {
                (format!("{value:.decimals$}"), value)
            } else {
                rounded(value, figures)
            };
            results.push(kept);
            parts.push(format!("{label} {text} = {shown} {unit}").trim().to_string());
            last = shown;
        }
        let note = if self.note.is_empty() { String::new() } else { format!(" ({})", self.note) };
        (parts.join("; ") + &note, last)
    }
}
