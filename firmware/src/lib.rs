//! The scan loop that runs a plan in a station controller.
#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]
