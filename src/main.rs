//! The thin program: hand the command line over, give the exit code back.

use std::process::ExitCode;

fn main() -> ExitCode {
    seedclock::cli::main()
}
