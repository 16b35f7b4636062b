//! Rows of a plan: fixed numbers of bytes, read in place, so that an image needs no copying.

/// A number that stands in a row, least byte first.
pub trait Field: Sized {
    /// The field and what follows it; zero where the bytes end too soon (rows have the right size).
    fn take(bytes: &[u8]) -> (Self, &[u8]);
    /// Writes the field and gives what is left.
    fn give<'a>(&self, bytes: &'a mut [u8]) -> &'a mut [u8];
}

macro_rules! field {
    ($($kind:ty, $size:literal;)*) => {$(
        impl Field for $kind {
            #[inline(always)]
            fn take(bytes: &[u8]) -> (Self, &[u8]) {
                match bytes.split_first_chunk::<$size>() {
                    Some((own, rest)) => (<$kind>::from_le_bytes(*own), rest),
                    None => (0, bytes),
                }
            }
            #[inline(always)]
            fn give<'a>(&self, bytes: &'a mut [u8]) -> &'a mut [u8] {
                match bytes.split_first_chunk_mut::<$size>() {
                    Some((own, rest)) => {
                        *own = self.to_le_bytes();
                        rest
                    }
                    None => &mut [],
                }
            }
        }
    )*};
}
field! { u8, 1; u16, 2; u32, 4; i32, 4; i64, 8; }

/// Whether a field only fills its row, which its name tells.
pub const fn fills(name: &str) -> bool {
    matches!(name.as_bytes(), [b's', b'p', b'a', b'r', b'e', ..])
}

/// Declares a row: its fields in order, and the bytes they fill.
macro_rules! row {
    ($(#[$doc:meta])* $name:ident, $size:literal { $($(#[$fdoc:meta])* $field:ident: $kind:ty,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub struct $name { $($(#[$fdoc])* pub $field: $kind,)* }
        const _: () = assert!($size == 0 $(+ size_of::<$kind>())*, "the fields fill the row");
        impl $name {
            /// Bytes of a row.
            pub const SIZE: usize = $size;
            /// Reads a row.
            #[inline(always)]
            pub fn read(bytes: &[u8; $size]) -> Self {
                let rest: &[u8] = bytes;
                $(let ($field, rest) = <$kind as $crate::plan::row::Field>::take(rest);)*
                let _ = rest;
                Self { $($field,)* }
            }
            /// Whether everything that only fills the row is 0.
            pub fn fill_is_zero(&self) -> bool {
                $((!$crate::plan::row::fills(stringify!($field)) || self.$field == 0))&&*
            }
            /// Writes a row.
            pub fn write(&self) -> [u8; $size] {
                let mut bytes = [0; $size];
                let rest: &mut [u8] = &mut bytes;
                $(let rest = $crate::plan::row::Field::give(&self.$field, rest);)*
                let _ = rest;
                bytes
            }
        }
    };
}
pub(crate) use row;
