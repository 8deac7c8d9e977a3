//! The limbledger program: arguments, pipeline file, wiring, all writing and printing.

mod arguments;
mod command;
mod earlier_run;
mod estimate;
mod failure;
mod inert;
mod pipeline;
mod progress;
mod run_folder;
mod trace_file;

use clap::{CommandFactory as _, FromArgMatches as _};
use std::process::ExitCode;

fn main() -> ExitCode {
    let matches = arguments::Arguments::command().get_matches();
    let mut arguments =
        arguments::Arguments::from_arg_matches(&matches).unwrap_or_else(|error| error.exit());
    if let (arguments::Command::Estimate(asked), Some(("estimate", matches))) =
        (&mut arguments.command, matches.subcommand())
    {
        asked.given = estimate::options_given(matches);
    }
    match command::perform(arguments.command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            command::say(&format!("error: {failure}"));
            ExitCode::from(failure.exit_code())
        }
    }
}
