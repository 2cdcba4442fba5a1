//! Planning: would these parts come up, at what speed, limited by what, with how much margin.
//!
//! In: links as the user tells them ([`read`] a plan file, [`words`]), no host at all. Out: a
//! [`judge::Planned`] a link, the [`ways`] between the devices of a site, and [`suggest`]ions. The
//! same limits and the same chain of parts as for a link that runs. Pure.

pub mod ends;
pub mod judge;
pub mod link;
pub mod medium;
pub mod read;
pub mod settings;
pub mod suggest;
pub mod ways;
pub mod words;

pub use judge::{Finding, Outcome, Planned, judge};
pub use link::{End, Link, Plan};
