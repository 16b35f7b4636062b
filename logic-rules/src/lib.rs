//! What a rule file means in one scan, written once over an algebra.
#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]
