//! What hangs beside the boxes: labels to cut out, and a sheet to tick on. Both lead back to the page by their codes.

mod address;
mod labels;
mod tally;

pub use address::{page_address, path_part};
pub use labels::{labels, labels_html, labels_part};
pub use tally::{DAYS, Tally, by_spot, looked_at, tally_html, tally_part};

/// How both look, on a screen and on paper: for a file of their own, and for the page that shows them.
pub const PAPER_STYLE: &str = include_str!("paper/paper.css");

/// A file of its own around what is to be printed.
#[derive(askama::Template)]
#[template(path = "paper/file.html", config = "src/report/askama.toml")]
struct File<'a> {
    title: &'a str,
    style: &'static str,
    part: &'a str,
}
