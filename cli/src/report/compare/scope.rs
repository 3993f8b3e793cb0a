//! What the scope of two revisions says: rules that find nothing any more, and what nobody has settled.

use crate::notices::{BESIDE, SCALE_FIGURE, SCALED, WHICH_UP};
use crate::proposed::{BEHIND, GROUND, WATER};
use crate::report::shared::FindingJson;
use crate::report::takeoff::{OpenSide, ScopeRow, TakeoffReport};
use crate::revisions::finds_nothing;
use cragskin_geom::units::{Angle, Area};
use std::slice;

/// Rules of two revisions by their words, in the order of the new one's; those of one revision alone stand alone. Of rules in the same
/// words the first goes with the first.
fn paired<'a>(old: &'a [ScopeRow], new: &'a [ScopeRow]) -> Vec<(Option<&'a ScopeRow>, Option<&'a ScopeRow>)> {
    let mut left: Vec<&ScopeRow> = old.iter().collect();
    let mut pairs: Vec<_> = new
        .iter()
        .map(|new| {
            let same = left.iter().position(|old| (&old.rule, old.is) == (&new.rule, new.is));
            (same.map(|k| left.remove(k)), Some(new))
        })
        .collect();
    pairs.extend(left.into_iter().map(|old| (Some(old), None)));
    pairs
}

/// What is said of a rule that one revision alone has.
fn alone(row: &ScopeRow, file: &str, angle: Angle) -> String {
    match row.triangles {
        0 => format!("{} in {file}, the only revision with this rule", finds_nothing(&row.rule, angle)),
        _ => format!("{} is {} by a rule of {file} alone: {}", Area::from_square_metres(row.area_m2), row.is, row.rule),
    }
}

pub(super) fn scope_notes(reports: &[TakeoffReport; 2], angles: [Angle; 2]) -> Vec<String> {
    let mut notes = Vec::new();
    let [old_file, new_file] = reports.each_ref().map(|report| &report.file);
    for (old, new) in paired(&reports[0].scope, &reports[1].scope) {
        let (old, new) = match (old, new) {
            (Some(old), Some(new)) => (old, new),
            (None, Some(new)) => {
                notes.push(alone(new, new_file, angles[1]));
                continue;
            }
            (Some(old), None) => {
                notes.push(alone(old, old_file, angles[0]));
                continue;
            }
            (None, None) => continue,
        };
        match (old.triangles, new.triangles) {
            (0, 0) => notes.push(format!("{}, in neither revision", finds_nothing(&new.rule, angles[1]))),
            (_, 0) => notes.push(format!(
                "{} in {new_file}; {} was {}",
                finds_nothing(&new.rule, angles[1]),
                Area::from_square_metres(old.area_m2),
                new.is
            )),
            (0, _) => notes.push(format!(
                "{} in {old_file}; {} is {} now",
                finds_nothing(&new.rule, angles[0]),
                Area::from_square_metres(new.area_m2),
                new.is
            )),
            _ => {}
        }
    }
    let asked = |open: &OpenSide| {
        format!("the {} is not settled: say --{side} bare or --{side} coated", open.side, side = open.side)
    };
    notes.extend(reports[1].open_sides.iter().map(asked));
    let open = [WHICH_UP, SCALE_FIGURE, GROUND, WATER, BEHIND, SCALED, BESIDE];
    let asks = |finding: &&FindingJson| open.contains(&finding.code.as_str());
    let lines = |finding: &FindingJson| [slice::from_ref(&finding.text), &finding.rule].concat();
    notes.extend(reports[1].findings.iter().filter(asks).flat_map(lines));
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule(rule: &str, triangles: usize) -> ScopeRow {
        ScopeRow { rule: rule.to_owned(), is: "bare", triangles, area_m2: 1.0, turned_deg: None }
    }

    /// Walls of hollows stand between the sides and the job's rules in the revision that has hollows alone: position tells nothing.
    #[test]
    fn rules_are_paired_by_their_words() {
        let old = [rule("floor", 2), rule("walls of closed hollows", 9), rule("part BACK", 4), rule("part BACK", 0)];
        let new = [rule("floor", 2), rule("part BACK", 4), rule("part BACK", 5), rule("part FRONT", 0)];
        let words = |row: Option<&ScopeRow>| row.map(|row| (row.rule.clone(), row.triangles));
        let found: Vec<_> = paired(&old, &new).into_iter().map(|(a, b)| [words(a), words(b)]).collect();
        let row = |rule: &str, triangles| Some((rule.to_owned(), triangles));
        let want = [
            [row("floor", 2), row("floor", 2)],
            [row("part BACK", 4), row("part BACK", 4)],
            [row("part BACK", 0), row("part BACK", 5)],
            [None, row("part FRONT", 0)],
            [row("walls of closed hollows", 9), None],
        ];
        assert_eq!(found, want);
        assert!(alone(&new[3], "new.obj", Angle::ZERO).contains("in new.obj, the only revision with this rule"));
    }
}
