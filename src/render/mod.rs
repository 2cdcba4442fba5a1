//! The same diagnosis as text or JSON. Pure: strings in, strings out.
//!
//! What comes from modules, captures and kernels is untrusted: [`clean`] makes it harmless to a
//! terminal, and JSON is written in ASCII.

pub mod compare;
pub mod decode;
pub mod explain;
pub mod json;
mod neighbour;
pub mod numbers;
mod over_time;
pub mod page;
pub mod plan;
pub mod readings;
pub mod survey;
pub mod terms;
mod text;

pub use text::{Style, clean};
