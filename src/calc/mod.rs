//! Arithmetic of links: pure functions of typed quantities, each with its formula's source.

pub mod bit_error_bound;
pub mod bit_errors;
pub mod fec;
pub mod goodput;
pub mod path_loss;
pub mod power_budget;
pub mod propagation;
pub mod rates;
pub mod slot;
pub mod trend;
