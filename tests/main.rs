//! End-to-end tests of the program.
