//! Arithmetic over figures, numbers of the book and constants.

use std::ops::{Add, Div, Mul, Sub};

use super::{BookKey, FigureId, Unit, whole_packages};
use crate::book::Book;

/// How two expressions are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "four signs")]
pub enum Sign {
    Plus,
    Minus,
    Times,
    Over,
}

/// An expression.
#[derive(Clone, Debug, PartialEq)]
pub enum Expr {
    /// A figure before rounding, and the word after it in a sum.
    Figure(FigureId, &'static str),
    /// The whole packages of a figure.
    Packages(FigureId),
    /// A number of the book in a unit.
    Book(BookKey, Unit),
    /// A constant, and the word after it in a sum.
    Constant(f64, &'static str),
    /// An expression that a sum shows as one number.
    Folded(Box<Expr>),
    /// Two expressions and the sign between them.
    Pair(Box<Expr>, Sign, Box<Expr>),
    /// The largest; a sum shows that one alone.
    Largest(Vec<Expr>),
}

macro_rules! operator {
    ($($trait:ident $method:ident $sign:ident;)+) => { $(
        impl $trait for Expr {
            type Output = Self;
            fn $method(self, other: Self) -> Self {
                Self::Pair(Box::new(self), Sign::$sign, Box::new(other))
            }
        }
    )+ };
}
operator! { Add add Plus; Sub sub Minus; Mul mul Times; Div div Over; }

/// A figure in the unit of its row.
#[must_use]
pub const fn figure(id: FigureId) -> Expr {
    Expr::Figure(id, id.unit().word())
}

/// A figure, with words of its own after it.
#[must_use]
pub const fn said(id: FigureId, words: &'static str) -> Expr {
    Expr::Figure(id, words)
}

/// A number of the book in its own unit.
#[must_use]
pub const fn book(key: BookKey) -> Expr {
    Expr::Book(key, key.unit())
}

/// A constant without a unit.
#[must_use]
pub const fn constant(value: f64) -> Expr {
    Expr::Constant(value, "")
}

/// An expression shown as one number.
#[must_use]
pub fn folded(expr: Expr) -> Expr {
    Expr::Folded(Box::new(expr))
}

/// A tie of computed values: one that is larger by less is no larger, so that rounding does not choose.
const TIE: f64 = 1e-9;

/// Which of several is the largest, the first of ties; none of none.
#[must_use]
pub fn largest(values: impl IntoIterator<Item = f64>) -> Option<(usize, f64)> {
    let larger = |best: (usize, f64), next: (usize, f64)| if next.1 > best.1 * (1.0 + TIE) { next } else { best };
    values.into_iter().enumerate().reduce(larger)
}

impl Sign {
    pub(super) fn join(self, left: f64, right: f64) -> f64 {
        match self {
            Self::Plus => left + right,
            Self::Minus => left - right,
            Self::Times => left * right,
            Self::Over => left / right,
        }
    }

    /// As a sum writes it.
    pub(super) const fn written(self) -> char {
        match self {
            Self::Plus => '+',
            Self::Minus => '-',
            Self::Times => 'x',
            Self::Over => '/',
        }
    }

    /// As a workbook writes it.
    #[must_use]
    pub const fn in_formula(self) -> char {
        match self {
            Self::Times => '*',
            other => other.written(),
        }
    }
}

/// Figures before rounding, by their ids.
pub type Known<'a> = &'a dyn Fn(FigureId) -> Option<f64>;

impl Expr {
    /// What it comes to by a book and by figures that are known; none if one of them is not defined.
    #[must_use]
    pub fn value(&self, by: &Book, known: Known<'_>) -> Option<f64> {
        Some(match self {
            Self::Figure(id, _) => known(*id)?,
            Self::Packages(id) => whole_packages(known(*id)?) as f64,
            Self::Book(key, unit) => key.of(by).number_in(*unit),
            Self::Constant(value, _) => *value,
            Self::Folded(expr) => expr.value(by, known)?,
            Self::Pair(left, sign, right) => sign.join(left.value(by, known)?, right.value(by, known)?),
            Self::Largest(all) => {
                let values = all.iter().map(|expr| expr.value(by, known)).collect::<Option<Vec<_>>>()?;
                largest(values)?.1
            }
        })
    }

    /// Every figure, number of the book and constant in it, from left to right.
    pub fn visit<'a>(&'a self, see: &mut impl FnMut(&'a Self)) {
        match self {
            Self::Folded(expr) => expr.visit(see),
            Self::Pair(left, _, right) => [left, right].into_iter().for_each(|expr| expr.visit(see)),
            Self::Largest(all) => all.iter().for_each(|expr| expr.visit(see)),
            leaf => see(leaf),
        }
    }

    /// The figures in it, from left to right.
    #[must_use]
    pub fn figures(&self) -> Vec<FigureId> {
        let mut out = Vec::new();
        self.visit(&mut |leaf| {
            if let Self::Figure(id, _) | Self::Packages(id) = leaf {
                out.push(*id);
            }
        });
        out
    }
}
