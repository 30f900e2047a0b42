//! The `oystermark` program; everything is in `cli`.
#![forbid(unsafe_code)]

mod cli;

fn main() -> std::process::ExitCode {
    cli::run().into()
}
