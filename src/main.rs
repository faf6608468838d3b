//! The command: arguments to a call of the library, and an exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    canewright::cli::end_tidily();
    canewright::cli::run(std::env::args_os())
}
