//! Checks against the outside world; one binary, one module a theme.
mod alloy_table;
