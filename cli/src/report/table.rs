//! Plain aligned columns, readable without colour.

use unicode_width::UnicodeWidthStr;

/// Rows of cells, the first column to the left and all others to the right, two blanks between.
#[must_use]
pub fn columns(rows: &[Vec<String>]) -> String {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |k: usize| rows.iter().filter_map(|row| row.get(k)).map(|cell| cell.width()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..count).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::from(" ");
        for (k, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let gap = " ".repeat(width.saturating_sub(cell.width()));
            line.push_str(if k == 0 { " " } else { "  " });
            line += &if k == 0 { format!("{cell}{gap}") } else { format!("{gap}{cell}") };
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// Text broken at blanks to lines of at most 110 columns, each behind `indent`.
#[must_use]
pub fn wrapped(indent: &str, text: &str) -> String {
    let mut out = String::new();
    let mut line = String::from(indent);
    for word in text.split(' ') {
        if line.width() + word.width() + 1 > 110 && line.trim() != "" && line != indent {
            out.push_str(line.trim_end());
            out.push('\n');
            line = " ".repeat(indent.width());
        }
        line.push_str(word);
        line.push(' ');
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}

/// A name made fit for a terminal: control characters, and those that turn the direction of writing or end a line, are
/// escaped as in `\u{1b}`.
#[must_use]
pub fn plain(name: &str) -> String {
    let mut out = String::with_capacity(name.len());
    for c in name.chars() {
        if is_hidden(c) { out.extend(c.escape_default()) } else { out.push(c) }
    }
    out
}

/// Characters that act on the terminal in place of being shown (Unicode 15.1: `Cc`, line ends, and the marks of UAX #9).
pub(crate) fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{200e}' | '\u{200f}' | '\u{061c}')
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}
