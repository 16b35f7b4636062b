//! Identifiers of variables in a dump. Most are one or two characters long: those are looked up by number.

use std::collections::HashMap;

use super::dump_top::Head;

/// Printable characters, of which an identifier is made (IEEE 1364-2005, 18.2.1).
const FIRST: u8 = b'!';
const COUNT: usize = (b'~' - b'!') as usize + 1;

/// What each identifier stands for.
#[derive(Debug)]
pub(super) struct Ids {
    /// Numbers of identifiers, from 1; 0 where there is none.
    short: Vec<u32>,
    all: HashMap<Box<[u8]>, u32>,
    /// The variables of each; none of what is passed over.
    variables: Vec<Vec<usize>>,
}

impl Ids {
    pub(super) fn new(head: &mut Head<'_>) -> Self {
        let mut ids = Self { short: vec![0; COUNT * (COUNT + 1)], all: HashMap::new(), variables: Vec::new() };
        for (number, variable) in head.variables.iter().enumerate() {
            if let Some(of) = ids.number(&variable.id) {
                of.push(number);
            }
        }
        for id in std::mem::take(&mut head.others) {
            ids.number(&id);
        }
        ids
    }
    /// Takes up an identifier; gives its variables.
    fn number(&mut self, id: &[u8]) -> Option<&mut Vec<usize>> {
        let next = u32::try_from(self.variables.len() + 1).ok()?;
        let number = match place(id) {
            Some(place) => self.short.get_mut(place)?,
            None => self.all.entry(id.into()).or_insert(0),
        };
        if *number == 0 {
            *number = next;
            self.variables.push(Vec::new());
        }
        self.variables.get_mut(usize::try_from(*number).ok()?.checked_sub(1)?)
    }
    /// The variables of an identifier, none of one that is passed over; nothing if it was not declared.
    pub(super) fn of(&self, id: &[u8]) -> Option<&[usize]> {
        let number = match place(id) {
            Some(place) => self.short.get(place),
            None => self.all.get(id),
        }?;
        self.variables.get(usize::try_from(*number).ok()?.checked_sub(1)?).map(Vec::as_slice)
    }
}

/// Where a short identifier stands in the table.
fn place(id: &[u8]) -> Option<usize> {
    let digit = |byte: u8| byte.checked_sub(FIRST).map(usize::from).filter(|digit| *digit < COUNT);
    match *id {
        [one] => digit(one),
        [one, two] => Some(COUNT * (1 + digit(one)?) + digit(two)?),
        _ => None,
    }
}
