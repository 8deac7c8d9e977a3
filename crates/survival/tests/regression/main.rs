//! Regression models against values made outside this project, worked examples and relations that must hold.
#![allow(clippy::unwrap_used)]

mod concordance_reference;
mod counting;
mod cox_by_hand;
mod cox_edges;
mod cox_reference;
mod cox_relations;
mod fine_gray_reference;
mod fine_gray_relations;
mod hostile_input;
mod interval_reference;
mod interval_relations;
mod logistic;
mod support;
