//! `simulate`: a synthetic export and its truth, in a folder of their own.

use crate::arguments::SimulateArguments;
use crate::failure::Failure;
pub(super) fn simulate(_arguments: &SimulateArguments) -> Result<(), Failure> {
    todo!()
}
