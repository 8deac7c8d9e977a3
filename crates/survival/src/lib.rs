//! Estimates from follow-up times, and the counts and limits around them.
//!
//! No clinic word, no calendar date and no file is known here: times are numbers, causes are numbers,
//! clusters are numbers.
