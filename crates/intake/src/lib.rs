//! Reads visit exports through a layout into canonical tables, with findings and row accounts.
