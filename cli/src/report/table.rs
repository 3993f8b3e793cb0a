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

/// Text broken at blanks to lines of at most 110 columns, each behind `indent`. A quoted argument that can be pasted is not broken.
#[must_use]
pub fn wrapped(indent: &str, text: &str) -> String {
    let mut out = String::new();
    let mut line = String::from(indent);
    for word in words(text) {
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

/// Text split at blanks but for those within quotes of an argument of a command line: one that begins with `--`, or stands behind such.
fn words(text: &str) -> Vec<&str> {
    let mut words: Vec<&str> = Vec::new();
    let mut rest = text;
    loop {
        let is_typed = rest.starts_with("--") || words.last().is_some_and(|word| word.starts_with("--"));
        let end = if is_typed { unquoted_blank(rest) } else { rest.find(' ') };
        let Some(end) = end else {
            words.push(rest);
            return words;
        };
        words.push(&rest[..end]);
        rest = &rest[end + 1..];
    }
}

/// The first blank outside quotes, as a shell reads them (POSIX.1-2017, Shell Command Language, 2.2).
fn unquoted_blank(text: &str) -> Option<usize> {
    let (mut within, mut escaped) = (None, false);
    for (at, c) in text.char_indices() {
        match (within, c) {
            _ if escaped => escaped = false,
            (None | Some('"'), '\\') => escaped = true,
            (None, '"' | '\'') => within = Some(c),
            (Some(quote), _) if quote == c => within = None,
            (None, ' ') => return Some(at),
            _ => {}
        }
    }
    None
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

#[cfg(test)]
mod tests {
    use super::wrapped;

    /// 110 columns, by hand: the name would be broken after its second word, and is put on a line of its own with what is stuck to it.
    #[test]
    fn an_argument_is_not_broken() {
        let (before, after) = ("word ".repeat(17), " and what follows it on the line that it ends on".repeat(2));
        for name in ["\"wall of the otters, left\"", "'wall \"A\" of the otters, left'", "'the otters'\\'' wall at $5'"]
        {
            let text = wrapped("  ", &format!("{before}say --leave-out {name},{after}"));
            assert!(text.lines().count() > 2 && text.contains(&format!("\n  {name}, and what")), "{text}");
            assert!(text.lines().all(|line| line.len() <= 110), "{text}");
            let text = wrapped("  ", &format!("{before}say --leave-out={name},{after}"));
            assert!(text.contains(&format!("\n  --leave-out={name}, and what")), "{text}");
        }
        // Words in quotation marks are only words.
        assert!(wrapped("", &format!("{before}{before}\"two words\"")).contains("\"two words\""));
        let text = wrapped("", &format!("{}1234 \"a b\"", "word ".repeat(20)));
        assert!(text.contains("\"a\nb\""), "{text}");
    }
}
