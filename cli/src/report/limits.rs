//! Limits that the user set, and what became of them: one row for every report.

use super::table::wrapped;
use crate::figure::Quantity;
use crate::job::{Comparison, Limit, NOT_COMPARED};
use crate::quantities::Measured;
use crate::takeoff::Takeoff;
use schemars::JsonSchema;
use serde::Serialize;

/// A limit and what became of it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LimitRow {
    /// As written.
    pub rule: String,
    /// What was measured; none when the model does not define it.
    pub measured: Option<String>,
    /// What that is worth: `good`, or a bound and why.
    pub quality: String,
    /// `kept`, `exceeded`, or `unknown`: nothing is known, or only a bound that leaves it open.
    pub verdict: &'static str,
    /// True when the limit is exceeded, and when that is not known, so that an automatic check fails. What is known to comparisons
    /// alone is left to them.
    pub exceeded: bool,
    /// The limit is a least value.
    #[serde(skip)]
    pub is_least: bool,
}

impl LimitRow {
    /// From what was measured.
    pub(crate) fn new(limit: &Limit, figure: &Measured<Quantity>) -> Self {
        let hit = limit.is_truly_hit(figure);
        let left_to_comparisons = NOT_COMPARED.contains(&figure.quality().reason.as_str());
        Self {
            rule: limit.to_string(),
            measured: figure.value().map(ToString::to_string),
            quality: figure.quality().to_string(),
            verdict: match hit {
                None => "unknown",
                Some(true) => "exceeded",
                Some(false) => "kept",
            },
            exceeded: hit.unwrap_or(!left_to_comparisons),
            is_least: matches!(limit.comparison, Comparison::Below | Comparison::AtMost),
        }
    }

    /// `kept`, `OVER` (`UNDER` a least value) or `NOT KNOWN`.
    pub(crate) fn shown(&self) -> &'static str {
        match self.verdict {
            "kept" => "kept",
            "exceeded" if self.is_least => "UNDER",
            "exceeded" => "OVER",
            _ => "NOT KNOWN",
        }
    }

    /// What was measured in words, with what it is worth where that is not good.
    pub(crate) fn measured_words(&self) -> String {
        match &self.measured {
            Some(measured) if self.quality == "good" => measured.clone(),
            Some(measured) => format!("{measured}, {}", self.quality),
            None => self.quality.clone(),
        }
    }
}

/// A row for each limit on a takeoff.
pub(crate) fn rows(limits: &[Limit], takeoff: &Takeoff) -> Vec<LimitRow> {
    limits.iter().map(|limit| LimitRow::new(limit, &takeoff.figures.quantity(limit.watched))).collect()
}

/// Whether one is exceeded, or not known to be kept.
pub(crate) fn any_exceeded(limits: &[LimitRow]) -> bool {
    limits.iter().any(|limit| limit.exceeded)
}

/// Limits and what became of them; nothing when none is set.
pub(crate) fn text(limits: &[LimitRow]) -> String {
    if limits.is_empty() {
        return String::new();
    }
    let mut out = "\nLIMITS SET FOR THIS JOB\n".to_owned();
    for limit in limits {
        let line = format!("{:<9}  {}   measured {}", limit.shown(), limit.rule, limit.measured_words());
        out += &wrapped("  ", &line);
    }
    out
}
