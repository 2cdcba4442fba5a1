//! Linkwright: which part of a wired Ethernet link is at fault or sets its limit.
//!
//! The path of a fact: [`observe`] (the only I/O) fills a [`snapshot`]; [`module`] turns module
//! memory into meaning; [`chain`] lines the parts up with their ceilings; [`faults`] and
//! [`diagnose`] weigh the evidence; [`render`] shows the result. Published limits are rows in
//! [`standards`]; arithmetic is in [`calc`]; units are types in [`quantity`].

#![recursion_limit = "256"] // the JSON of a whole module is one macro call

pub mod calc;
pub mod chain;
pub mod cli;
pub mod diagnose;
pub mod faults;
pub mod module;
pub mod observe;
pub mod plan;
pub mod quantity;
pub mod render;
pub mod report;
pub mod site;
pub mod snapshot;
pub mod standards;
