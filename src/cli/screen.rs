//! What a person or a script sees while the program runs.

use std::io::{self, IsTerminal, Write};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::exit::Trouble;

/// Prints one sentence to the error output. Nobody may be listening there; that is no failure.
pub fn complain(trouble: &Trouble) {
    let _ = writeln!(io::stderr().lock(), "{}", trouble.sentence());
}

/// The normal output, which may be a pipe that closes early.
#[derive(Debug, Default)]
pub struct Output {
    closed: bool,
}

impl Output {
    /// Prints a line. After the reader has gone away nothing more is printed, and all is well; any
    /// other failure (a full disk behind `>`) is a trouble.
    pub fn line(&mut self, text: &str) -> Result<(), Trouble> {
        if self.closed {
            return Ok(());
        }
        let mut out = io::stdout().lock();
        match writeln!(out, "{text}").and_then(|()| out.flush()) {
            Ok(()) => Ok(()),
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                self.closed = true;
                Ok(())
            }
            Err(error) => {
                self.closed = true;
                Err(Trouble::of_command(
                    format!("cannot print: {error}"),
                    "the reports themselves are written; look at where the output goes",
                ))
            }
        }
    }
}

/// A bar over the scans of a run, shown only to a person at a terminal.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// A bar for so many scans; `quiet` hides it.
    pub fn new(scans: usize, quiet: bool) -> Progress {
        if quiet || !io::stderr().is_terminal() {
            return Progress {
                bar: ProgressBar::hidden(),
            };
        }
        let bar = ProgressBar::with_draw_target(Some(scans as u64), ProgressDrawTarget::stderr());
        if let Ok(style) =
            ProgressStyle::with_template("{spinner} {pos} of {len} {bar:24} {elapsed} {wide_msg}")
        {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(200));
        Progress { bar }
    }

    /// Says which scan is being read.
    pub fn reading(&self, name: &str) {
        self.bar.set_message(name.to_owned());
    }

    /// One scan is done.
    pub fn done(&self) {
        self.bar.inc(1);
    }

    /// Runs something that prints, with the bar out of the way.
    pub fn aside<T>(&self, print: impl FnOnce() -> T) -> T {
        self.bar.suspend(print)
    }

    /// Takes the bar away.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }
}
