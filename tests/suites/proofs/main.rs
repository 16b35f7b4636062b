//! What is proved, refuted and witnessed, and the certificates of it.

mod brute;
mod certificates;
mod export;
mod known;
mod never_missed;
mod prove;
mod refute;
mod witness;
