//! The columns of a Parquet file, as the footer tells them: read here and handed to what reads the rest, so that no file decides how deep or how
//! wide a tree of columns is built.
//!
//! A recording has one value a row in each column, so there is no tree: a root, and the columns under it.

use std::sync::Arc;

use parquet::basic::{Repetition, Type as Physical};
use parquet::errors::{ParquetError, Result};
use parquet::schema::types::{SchemaDescPtr, SchemaDescriptor, Type};

use super::header::{Fields, Value, list, number, structure};
use super::pages::damaged;

/// What the values of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// As they are.
    Plain,
    /// Whole numbers without a sign.
    Unsigned,
    /// Moments: so many in a second; and whether they are those of UTC.
    Moment(i64, bool),
}

/// The columns that a footer tells of, and what their values are. Fields have the numbers that the Thrift definition of the format gives them.
pub(super) fn schema(mut footer: &[u8], most: usize) -> Result<(SchemaDescPtr, Vec<Kind>)> {
    let nothing = || damaged("its footer says nothing of its columns");
    let columns = list(&mut footer, 2).and_then(|count| count.checked_sub(1)).ok_or_else(nothing)?;
    if usize::try_from(columns).is_ok_and(|columns| columns > most) || usize::try_from(columns).is_err() {
        return Err(damaged(&format!("more than {most} columns")));
    }
    let root = structure(&mut footer).ok_or_else(nothing)?;
    let (mut types, mut kinds) = (Vec::new(), Vec::new());
    for _ in 0..columns {
        let (column, kind) = column(&structure(&mut footer).ok_or_else(nothing)?)?;
        types.push(Arc::new(column));
        kinds.push(kind);
    }
    if number(&root, 5).and_then(|said| u64::try_from(said).ok()).unwrap_or(0) != columns {
        return Err(damaged("its footer has another number of columns than it says"));
    }
    let root = Type::group_type_builder("recording").with_fields(types).build()?;
    Ok((Arc::new(SchemaDescriptor::new(Arc::new(root))), kinds))
}

/// A column, and what its values are.
fn column(element: &Fields) -> Result<(Type, Kind)> {
    let Some(Value::Text(name)) = element.get(&4) else { return Err(damaged("a column has no name")) };
    let name = std::str::from_utf8(name).map_err(|_| damaged("the name of a column is no UTF-8"))?;
    if number(element, 5).is_some_and(|within| within != 0) || !element.contains_key(&1) {
        return Err(nested(name));
    }
    let repetition = match number(element, 3) {
        Some(0) => Repetition::REQUIRED,
        Some(1) => Repetition::OPTIONAL,
        Some(2) => return Err(nested(name)),
        _ => return Err(damaged(&format!("`{name}` does not say whether it has a value in each row"))),
    };
    let physical = match number(element, 1) {
        Some(0) => Physical::BOOLEAN,
        Some(1) => Physical::INT32,
        Some(2) => Physical::INT64,
        Some(4) => Physical::FLOAT,
        Some(5) => Physical::DOUBLE,
        Some(6) => Physical::BYTE_ARRAY,
        _ => return Err(no_values(name)),
    };
    let kind = kind(physical, element).ok_or_else(|| no_values(name))?;
    Ok((Type::primitive_type_builder(name, physical).with_repetition(repetition).build()?, kind))
}

/// What values stored so are, by their logical type, or the older converted one; none of what no signal is.
fn kind(physical: Physical, element: &Fields) -> Option<Kind> {
    let text = physical == Physical::BYTE_ARRAY;
    let long = physical == Physical::INT64;
    let whole = long || physical == Physical::INT32;
    if let Some(logical) = element.get(&10) {
        let Value::Fields(logical) = logical else { return None };
        let (number_of, Value::Fields(of)) = logical.first_key_value()? else { return None };
        return match number_of {
            1 | 4 if text => Some(Kind::Plain),
            8 if long => {
                let Some(Value::Fields(unit)) = of.get(&2) else { return None };
                let in_a_second = match unit.first_key_value()? {
                    (1, _) => 1_000,
                    (2, _) => 1_000_000,
                    (3, _) => 1_000_000_000,
                    _ => return None,
                };
                Some(Kind::Moment(in_a_second, number(of, 1)? == 1))
            }
            10 if whole => Some(if number(of, 2)? == 1 { Kind::Plain } else { Kind::Unsigned }),
            _ => None,
        };
    }
    if !element.contains_key(&6) {
        return Some(Kind::Plain);
    }
    match number(element, 6)? {
        0 | 4 if text => Some(Kind::Plain),
        9 if long => Some(Kind::Moment(1_000, true)),
        10 if long => Some(Kind::Moment(1_000_000, true)),
        11..=14 if whole => Some(Kind::Unsigned),
        15..=18 if whole => Some(Kind::Plain),
        _ => None,
    }
}

fn nested(name: &str) -> ParquetError {
    damaged(&format!("`{name}` is a list, or lies within another column: one value a row is what a signal has"))
}

pub(super) fn no_values(name: &str) -> ParquetError {
    damaged(&format!(
        "`{name}` holds what no signal is: truth values, whole numbers, floats, texts and time stamps (not INT96) are read"
    ))
}

#[cfg(test)]
mod tests {
    use super::{Kind, schema};

    /// A footer up to its columns: version 1, and a list of so many elements, told by four bytes.
    fn footer(count: u32, elements: &[u8]) -> Vec<u8> {
        let seven = |shift: u32| u8::try_from(count >> shift & 0x7f).unwrap();
        let count = [seven(0) | 0x80, seven(7) | 0x80, seven(14) | 0x80, seven(21)];
        [&[0x15, 2, 0x19, 0xfc], &count[..], elements].concat()
    }
    /// A group called `g` with so many children, zigzag and in bytes of seven bits; the root is one.
    fn group(children: &[u8]) -> Vec<u8> {
        [&[0x35, 0, 0x18, 1, b'g', 0x15], children, &[0]].concat()
    }
    /// A column called `c` of 64 bits, which every row has.
    const COLUMN: [u8; 8] = [0x15, 4, 0x25, 0, 0x18, 1, b'c', 0];

    #[test]
    fn columns_are_those_under_the_root() {
        let told = footer(3, &[&group(&[4])[..], &COLUMN, &COLUMN].concat());
        let (columns, kinds) = schema(&told, 2).unwrap();
        assert_eq!((columns.num_columns(), columns.column(1).name(), kinds), (2, "c", vec![Kind::Plain; 2]));
        assert!(schema(&told, 1).unwrap_err().to_string().contains("more than 1 columns"));
        for cut in 0..told.len() {
            assert!(schema(&told[..cut], 2).is_err(), "{cut}");
        }
    }

    #[test]
    fn groups_and_numbers_that_are_none_are_refused() {
        // A million groups, each within the one before.
        let deep = footer(1_000_000, &group(&[2]).repeat(1_000_000));
        assert!(schema(&deep, 10_000).unwrap_err().to_string().contains("more than 10000 columns"));
        let deep = footer(10_001, &group(&[2]).repeat(10_001));
        assert!(schema(&deep, 10_000).unwrap_err().to_string().contains("within another column"));
        // 2^31 - 1 columns, by the root and by a group: room is made for none of them.
        let many = group(&[0xfe, 0xff, 0xff, 0xff, 0x0f]);
        let told = schema(&footer(2, &[&many[..], &COLUMN].concat()), 10_000).unwrap_err().to_string();
        assert!(told.contains("another number of columns"), "{told}");
        let told = schema(&footer(2, &[group(&[2]), many].concat()), 10_000).unwrap_err().to_string();
        assert!(told.contains("within another column"), "{told}");
    }
}
