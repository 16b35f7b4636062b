//! Recordings: what a station read, scan after scan (`manual/recordings.md` gives the format).
pub(crate) mod dumped;
pub mod given;
#[cfg(feature = "parquet")]
mod parquet;
pub mod read;
pub mod sequence;
pub mod source;
pub mod write;

#[cfg(test)]
mod tests;
