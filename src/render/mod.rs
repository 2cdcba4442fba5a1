//! The same diagnosis as text or JSON. Pure: strings in, strings out.
//!
//! What comes from modules, captures and kernels is untrusted: [`clean`] makes it harmless to a
//! terminal, and JSON is written in ASCII.

pub mod compare;
pub mod decode;
pub mod explain;
pub mod json;
pub mod neighbour;
pub mod numbers;
pub mod over_time;
pub mod page;
pub mod plan;
pub mod readings;
pub mod survey;
pub mod terms;
pub(crate) mod text;

pub use text::{Style, clean};
