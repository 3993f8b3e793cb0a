//! One fault, its place, and how it is shown.

use std::{fmt, ops::Range};

/// Something wrong at one place of a settings file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Bytes of the text that are meant.
    pub span: Range<usize>,
    /// What is wrong, as one sentence.
    pub message: String,
    /// What to do about it, if there is something to say.
    pub hint: Option<String>,
}

/// All faults of one file, in the order of its lines. Shown with the line and a caret each.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults {
    /// The file as the user named it.
    pub file: String,
    /// Its text.
    pub text: String,
    /// What is wrong with it; never empty.
    pub list: Vec<Fault>,
}

impl Faults {
    /// Line and column of a fault, both from 1, the column in characters.
    #[must_use]
    pub fn place(&self, fault: &Fault) -> (usize, usize) {
        let start = self.floor(fault.span.start);
        let before = &self.text[..start];
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
    }

    fn floor(&self, at: usize) -> usize {
        (0..=at.min(self.text.len())).rev().find(|&i| self.text.is_char_boundary(i)).unwrap_or(0)
    }
}

impl Faults {
    /// Each fault with the line that it stands in and a caret below; an empty line between two.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let mut out = Vec::new();
        for (n, fault) in self.list.iter().enumerate() {
            if n > 0 {
                out.push(String::new());
            }
            let (line, column) = self.place(fault);
            out.push(format!("{}:{line}:{column}: {}", self.file, fault.message));
            let source = self.text.lines().nth(line - 1).unwrap_or_default();
            let gutter = line.to_string();
            let marked =
                &self.text[self.floor(fault.span.start)..self.floor(fault.span.end).max(self.floor(fault.span.start))];
            let width = marked.lines().next().unwrap_or_default().chars().count().max(1);
            // Tabs are kept so that the caret stands under what it points at.
            let indent: String = source.chars().take(column - 1).map(|c| if c == '\t' { c } else { ' ' }).collect();
            out.push(format!("  {gutter} | {source}"));
            out.push(format!("  {} | {indent}{}", " ".repeat(gutter.len()), "^".repeat(width)));
            out.extend(fault.hint.iter().map(|hint| format!("  {hint}")));
        }
        out
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.lines().iter().try_for_each(|line| writeln!(f, "{line}"))
    }
}

impl std::error::Error for Faults {}
