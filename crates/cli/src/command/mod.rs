//! One file a command. Commands never call each other: what several do is in `load` (an export loaded and checked) and `since`
//! (what became of the figures of an earlier run).

mod check;
mod codes;
mod compare;
mod data_files;
mod draft_layout;
mod explain;
mod findings_file;
mod grade;
mod load;
mod manifest;
mod run;
mod scales;
mod simulate;
mod since;
mod trace;
mod verify;

pub(crate) use scales::scales_in_help;

use crate::arguments::Command;
use crate::failure::Failure;
use std::io::{ErrorKind, Write as _};

/// Name and version of the program.
const PROGRAM: &str = concat!("limbledger ", env!("CARGO_PKG_VERSION"));

/// Does what was asked.
pub(crate) fn perform(command: Command) -> Result<(), Failure> {
    match command {
        Command::Run(arguments) => run::run(&arguments),
        Command::Check(arguments) => check::check(&arguments),
        Command::DraftLayout(arguments) => draft_layout::draft_layout(&arguments),
        Command::Estimate(arguments) => out(&crate::estimate::estimate(&arguments)?),
        Command::Grade(arguments) => grade::grade(&arguments),
        Command::Explain(arguments) => explain::explain(&arguments.name),
        Command::List(arguments) => explain::list(arguments.what),
        Command::Verify(arguments) => verify::verify(&arguments),
        Command::Trace(arguments) => trace::trace_figure(&arguments),
        Command::Compare(arguments) => compare::compare(&arguments),
        Command::Simulate(arguments) => simulate::simulate(&arguments),
    }
}

/// Writes data to stdout. A reader that has gone away (`| head`) is no failure.
fn out(text: &str) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    match stdout
        .write_all(text.as_bytes())
        .and_then(|()| stdout.flush())
    {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::CannotRun(format!(
            "could not write to stdout: {}",
            error.kind()
        ))),
        _ => Ok(()),
    }
}

/// Says a line to stderr. Nothing is to be done when nobody listens.
pub(crate) fn say(words: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{words}");
}
