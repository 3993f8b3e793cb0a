//! Widths of the letters of Helvetica, in thousandths of the size, from the metrics that come with the standard
//! fourteen fonts of PDF (ISO 32000-1, 9.6.2.2). Bold is set a tenth wider, which is on the wide side.

/// From the blank to the tilde.
const WIDTHS: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556, 556, 556,
    556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833,
    722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556,
    556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334,
    260, 334, 584,
];

/// A font of the print.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Face {
    Plain,
    Bold,
}

/// Width of a line in points.
pub(super) fn width(text: &str, face: Face, size: f32) -> f32 {
    let thousandths: u32 = encode(text)
        .iter()
        .map(|&byte| u32::from(WIDTHS.get(usize::from(byte).wrapping_sub(32)).copied().unwrap_or(556)))
        .sum();
    let wider = if face == Face::Bold { 1.1 } else { 1.0 };
    thousandths as f32 * size * wider / 1000.0
}

/// Text in the fonts' own encoding: Latin letters; anything else becomes a question mark.
pub(super) fn encode(text: &str) -> Vec<u8> {
    text.chars()
        .map(|c| match c {
            ' '..='~' => c as u8,
            '\u{a0}'..='\u{ff}' => u8::try_from(u32::from(c)).unwrap_or(b'?'),
            _ => b'?',
        })
        .collect()
}

/// Lines no wider than `room`, broken at a line break if that helps, else at blanks; a word that is wider than that is
/// broken inside.
pub(super) fn wrap(text: &str, face: Face, size: f32, room: f32) -> Vec<String> {
    if text.contains('\n') && width(text, face, size) > room {
        return text.lines().flat_map(|line| wrap(line, face, size, room)).collect();
    }
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut push = |line: &mut String, word: &str| {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if width(&longer, face, size) <= room {
            *line = longer;
            return;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(line));
        }
        for c in word.chars() {
            if !line.is_empty() && width(&format!("{line}{c}"), face, size) > room {
                lines.push(std::mem::take(line));
            }
            line.push(c);
        }
    };
    text.split_whitespace().for_each(|word| push(&mut line, word));
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_their_words_and_their_room() {
        let text = "the foam is cut smaller by the skin aVeryLongNameWithoutAnyBlankThatNoColumnHolds end";
        let lines = wrap(text, Face::Plain, 9.0, 100.0);
        assert!(lines.iter().all(|line| width(line, Face::Plain, 9.0) <= 100.0));
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert_eq!(wrap("", Face::Plain, 9.0, 100.0), [""]);
    }
}
