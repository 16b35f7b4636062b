//! What people read: findings, pages, and this repository itself.

mod faults;
mod integrity;
mod report;
mod repository;
