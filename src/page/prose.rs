//! Answers that were written for a terminal, as paragraphs that fit any screen: lines that were broken at its width are joined again;
//! tables stay as they are and can be moved sideways.

use textwrap::core::display_width;

/// Width that answers are broken at, in columns.
const WIDTH: usize = 96;

/// A part of an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Block {
    /// Words; how deep they are indented: 0, 1, 2.
    Words(usize, String),
    /// Lines whose columns mean something.
    Table(String),
    /// A little room.
    Room,
}

/// The parts of an answer.
pub(super) fn blocks(text: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    // The line before, where this one may go on with it: its width, and how far it was indented.
    let mut before: Option<(usize, usize)> = None;
    for line in text.lines() {
        let words = line.trim_start_matches(' ');
        let indent = line.len() - words.len();
        let goes_on = before.is_some_and(|(width, first)| {
            let word = words.split(' ').next().unwrap_or_default();
            indent > first && width + 1 + display_width(word) > WIDTH && !is_table(words) && !words.starts_with("- ")
        });
        match blocks.last_mut() {
            _ if words.is_empty() => {
                if !matches!(blocks.last(), None | Some(Block::Room)) {
                    blocks.push(Block::Room);
                }
                before = None;
                continue;
            }
            Some(Block::Words(_, said)) if goes_on => {
                said.push(' ');
                said.push_str(words);
                before = before.map(|(_, first)| (display_width(line), first));
                continue;
            }
            Some(Block::Table(lines)) if is_table(words) => {
                lines.push('\n');
                lines.push_str(line);
                before = None;
                continue;
            }
            _ => {}
        }
        if is_table(words) {
            blocks.push(Block::Table(line.to_owned()));
            before = None;
        } else {
            let words = words.strip_prefix("note: ").map_or_else(|| words.to_owned(), |note| format!("Note: {note}"));
            blocks.push(Block::Words((indent / 2).min(2), words));
            before = Some((display_width(line), indent));
        }
    }
    if blocks.last() == Some(&Block::Room) {
        blocks.pop();
    }
    blocks
}

/// Words are never two spaces apart, and hold no bars.
fn is_table(words: &str) -> bool {
    words.contains("  ") || words.contains(['░', '▒', '▓', '█'])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paragraphs_are_whole_again_and_tables_are_left() {
        let long = "word ".repeat(60);
        let mut wrapped = String::from("First:");
        let mut column = wrapped.len();
        for word in long.split_whitespace() {
            if column + 1 + word.len() > WIDTH {
                wrapped.push_str("\n  ");
                column = 2;
            } else {
                wrapped.push(' ');
                column += 1;
            }
            wrapped.push_str(word);
            column += word.len();
        }
        let text = format!("{wrapped}\n  a1  20 of 30\n- do\n\n\n  A1     20 of 30\n  A2      1 of 30\nnote: end\n\n");
        let words = |depth, text: &str| Block::Words(depth, text.to_owned());
        assert_eq!(
            blocks(&text),
            [
                words(0, &format!("First: {}", long.trim())),
                Block::Table("  a1  20 of 30".to_owned()),
                words(0, "- do"),
                Block::Room,
                Block::Table("  A1     20 of 30\n  A2      1 of 30".to_owned()),
                words(0, "Note: end"),
            ]
        );
        assert!(blocks("").is_empty() && blocks("\n\n").is_empty());
    }
}
