//! x
mod api_tmp {}
#[path = "api.rs"]
pub mod api;
