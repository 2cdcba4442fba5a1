//! The only I/O of the program: a live host or a capture file becomes a [`crate::snapshot`].
#![allow(clippy::disallowed_methods, reason = "this folder is the edge where I/O is done")]

pub mod capture;
pub mod live;
pub mod neighbour;
mod siblings;
