//! Serial ports: bytes → lines → readings, stamped as they arrive; and a player that stands in for a board.
//!
//! Three steps, each apart from the next: [`LineBuffer`] finds whole lines in bytes that come as they like, [`read_line`]
//! says what a whole line means, and [`listen`] owns the port. Another line format is one more function in `line.rs`.

mod line;
mod line_buffer;
mod opening;
mod player;
mod port;
mod stop;

pub use line::{LineFault, Measured, read_line};
pub use line_buffer::{Found, LONGEST_LINE, LineBuffer};
pub use opening::Opening;
pub use player::Player;
pub use port::{Heard, News, Port, PortState, listen};
pub use stop::Stop;
