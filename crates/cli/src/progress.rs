//! Words to stderr while work goes on; nothing unless a person is watching.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::time::Duration;

/// A line on stderr that says what is going on.
#[derive(Debug)]
pub(crate) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// Starts silent unless stderr is a terminal.
    pub(crate) fn start() -> Self {
        let bar = if std::io::stderr().is_terminal() {
            ProgressBar::new_spinner()
        } else {
            ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden())
        };
        bar.set_style(ProgressStyle::default_spinner());
        bar.enable_steady_tick(Duration::from_millis(120));
        Self { bar }
    }

    /// Says what is being done now.
    pub(crate) fn say(&self, words: impl Into<String>) {
        self.bar.set_message(words.into());
    }

    /// Clears the line.
    pub(crate) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}
