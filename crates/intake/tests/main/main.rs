//! One binary: layouts, rows and cells, shapes, damaged input.
#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on should stop there"
)]

mod agreement;
mod cells;
mod columns;
mod damage;
mod doors;
mod drafts;
mod fhir;
mod fhir_overlaps;
mod fhir_strangers;
mod files;
mod hostile;
mod identifiers;
mod joined;
mod layouts;
mod long;
mod mappings;
mod overlaps;
mod published_codes;
mod recounts;
mod repeats;
mod rows;
mod sample;
mod screen_blind;
mod screen_kinds;
mod screen_table;
mod screen_third;
mod strangers;
mod support;
mod versions;
