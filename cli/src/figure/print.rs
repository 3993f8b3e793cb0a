//! A sum as people read it: the printed numbers give the printed result.

use std::collections::BTreeMap;

use super::{Expr, FigureId, Figures, expr::Sign, expr::largest, whole_packages};
use crate::book::Book;

/// Figures shown of a number of the book: enough for any value, few enough to hide binary noise.
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

/// A number cut to so many figures, with the word after it.
fn measured(value: f64, figures: usize, word: &str) -> (String, f64) {
    let (text, value) = rounded(value, figures);
    (if word.is_empty() { text } else { format!("{text} {word}") }, value)
}

/// The same for a number of the book or a constant: in full if that is short.
fn fixed(value: f64, figures: usize, word: &str) -> (String, f64) {
    measured(value, if is_short(value) { figures.max(FIXED_FIGURES) } else { figures }, word)
}

/// A sum to print: the book and the figures that it is over.
pub(super) struct Printer<'a> {
    pub(super) book: &'a Book,
    pub(super) figures: &'a Figures,
}

impl<'a> Printer<'a> {
    fn exact(&self, id: FigureId) -> f64 {
        self.figures.exact(id).unwrap_or(f64::NAN)
    }

    fn value(&self, expr: &Expr) -> f64 {
        expr.value(self.book, &|id| self.figures.exact(id)).unwrap_or(f64::NAN)
    }

    /// The expression to show: the largest of several, and a step that is all of it.
    fn shown(&self, expr: &'a Expr) -> &'a Expr {
        match expr {
            Expr::Largest(all) => {
                let values = all.iter().map(|expr| self.value(expr));
                largest(values).map_or(expr, |(k, _)| self.shown(&all[k]))
            }
            Expr::Figure(id, _) if id.is_step() => self.figures.work(*id).map_or(expr, |work| self.shown(work)),
            _ => expr,
        }
    }

    /// The steps of an expression, each once, in the order in which they are needed.
    fn steps(&self, expr: &Expr, out: &mut Vec<FigureId>) {
        for id in expr.figures().into_iter().filter(|id| id.is_step()) {
            if let Some(work) = self.figures.work(id)
                && !out.contains(&id)
            {
                self.steps(work, out);
                out.push(id);
            }
        }
    }

    /// The sum of a figure in one line.
    ///
    /// Figures are added until the printed numbers give the printed result, and decimals until rounding the printed
    /// result up gives the packages ordered.
    pub(super) fn sum(&self, id: FigureId, expr: &'a Expr, note: &str) -> String {
        let (exact, row) = (self.value(expr), id.row());
        let expr = self.shown(expr);
        let order = whole_packages(exact);
        let mut line = String::new();
        for decimals in row.decimals..row.decimals + 12 {
            let wanted = format!("{exact:.decimals$}");
            if row.packed && wanted.parse().is_ok_and(|shown: f64| whole_packages(shown) != order) {
                continue;
            }
            for figures in 4..=17 {
                let (text, result) = self.with_figures(expr, figures, decimals);
                line = format!("{text} {}", row.said).trim().to_owned();
                if !note.is_empty() {
                    line += &format!(" ({note})");
                }
                if result == wanted {
                    if row.packed {
                        line += &format!("; order {order}");
                    }
                    return line;
                }
            }
        }
        line
    }

    /// The sum to the sign of equality and the result, and the result alone.
    fn with_figures(&self, expr: &Expr, figures: usize, decimals: usize) -> (String, String) {
        let mut steps = Vec::new();
        self.steps(expr, &mut steps);
        let (mut results, mut line) = (BTreeMap::new(), String::new());
        for id in steps {
            let Some(work) = self.figures.work(id) else { continue };
            let (text, value) = self.write(work, &results, figures);
            let (shown, kept) = rounded(value, figures);
            results.insert(id, kept);
            line += format!("{} {text} = {shown} {}", id.row().label, id.row().said).trim();
            line += "; ";
        }
        let (text, value) = self.write(expr, &results, figures);
        let shown = format!("{value:.decimals$}");
        (format!("{line}{text} = {shown}"), shown)
    }

    /// Text and value of an expression with numbers cut to so many figures.
    fn write(&self, expr: &Expr, results: &BTreeMap<FigureId, f64>, figures: usize) -> (String, f64) {
        match expr {
            Expr::Figure(id, word) => {
                measured(results.get(id).copied().unwrap_or_else(|| self.exact(*id)), figures, word)
            }
            Expr::Packages(id) => {
                let count = self.value(expr);
                fixed(count, figures, id.unit().after(count))
            }
            // In another unit it is a conversion.
            Expr::Book(key, unit) if *unit != key.unit() => measured(self.value(expr), figures, unit.after(2.0)),
            Expr::Book(_, unit) => fixed(self.value(expr), figures, unit.after(2.0)),
            Expr::Constant(value, word) => fixed(*value, figures, word),
            Expr::Folded(inner) => fixed(self.value(inner), figures, ""),
            Expr::Pair(left, sign, right) => {
                let ((a, x), (b, y)) = (self.write(left, results, figures), self.write(right, results, figures));
                let text = format!(
                    "{} {} {}",
                    bracketed(left, *sign, a, false),
                    sign.written(),
                    bracketed(right, *sign, b, true)
                );
                (text, sign.join(x, y))
            }
            Expr::Largest(_) => measured(self.value(expr), figures, ""),
        }
    }
}

fn bracketed(expr: &Expr, outer: Sign, text: String, right: bool) -> String {
    let Expr::Pair(_, inner, _) = expr else { return text };
    let loose = matches!(inner, Sign::Plus | Sign::Minus);
    let needed = match (outer, right) {
        (Sign::Plus, _) | (Sign::Minus, false) => false,
        (Sign::Minus, true) | (Sign::Times | Sign::Over, false) => loose,
        (Sign::Times | Sign::Over, true) => true,
    };
    if needed { format!("({text})") } else { text }
}
