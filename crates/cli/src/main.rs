//! The limbledger program: arguments, pipeline file, wiring, all writing and printing.

mod arguments;
mod command;
mod estimate;
mod failure;
mod pipeline;
mod progress;
mod run_folder;

use clap::Parser as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = arguments::Arguments::parse();
    match command::perform(arguments.command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            command::say(&format!("error: {failure}"));
            ExitCode::from(failure.exit_code())
        }
    }
}
