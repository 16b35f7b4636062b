//! Recordings: what a station read, scan after scan (`manual/recordings.md` gives the format).
pub mod read;
