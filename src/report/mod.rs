//! The report for a supplier: one page that may leave the house, with its capture inside.
//!
//! It is private by default. [`redact`] first makes a capture (and the far end's, and the site
//! file) that names nobody; what is found is then found from that, so that no form of the report
//! can hold what its capture does not. Pure: no I/O, no clock, no randomness.

pub mod redact;
