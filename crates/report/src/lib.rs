//! Turns a finished report value into one self-contained HTML file with charts.
